"""What phones send: one item a record at one rev, taken one by one (docs/phone-protocol.md)."""

from benchwalk.records.sync.files import FileRefusedError, bring, bring_file
from benchwalk.records.sync.reading import KINDS, Item, NotAnItemError, read_item
from benchwalk.records.sync.taking import Answer, Told, take

__all__ = [
    "KINDS",
    "Answer",
    "FileRefusedError",
    "Item",
    "NotAnItemError",
    "Told",
    "bring",
    "bring_file",
    "read_item",
    "take",
]
