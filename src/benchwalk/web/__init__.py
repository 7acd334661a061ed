"""The pages, for a browser."""

from benchwalk.web.app import LOOPBACK, create_app
from benchwalk.web.base import Served

__all__ = ["LOOPBACK", "Served", "create_app"]
