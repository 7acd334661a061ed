"""The pages, for a browser on the same machine."""

from benchwalk.web.app import LOOPBACK, create_app

__all__ = ["LOOPBACK", "create_app"]
