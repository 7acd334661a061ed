from tests.records.sheets.lists.small_list import nursery

__all__ = ["nursery"]
