"""What phones send: one item a record at one rev, taken one by one (docs/phone-protocol.md)."""

from benchwalk.records.sync.files import FileRefusedError, bring_file
from benchwalk.records.sync.reading import KINDS, Item, NotAnItemError, read_item
from benchwalk.records.sync.taking import Answer, take

__all__ = [
    "KINDS",
    "Answer",
    "FileRefusedError",
    "Item",
    "NotAnItemError",
    "bring_file",
    "read_item",
    "take",
]
