"""Acquire: what was brought from the site.

In come picture files and a field book (TOML); out go :class:`~analyzer.records.Photo` (upright
sRGB pixels with hash, camera, time and place) and :class:`~analyzer.records.FieldBook`, both
checked as a whole. The only stage that reads what a person hands over; it changes no file.
"""

from analyzer.acquire.blank import blank_field_book
from analyzer.acquire.field_book import parse_field_book, read_field_book
from analyzer.acquire.photo import list_pictures, note_photo, read_photo, read_picture
from analyzer.acquire.samples import sample_field_book, samples
from analyzer.acquire.schema import field_book_schema

__all__ = [
    "blank_field_book",
    "field_book_schema",
    "list_pictures",
    "note_photo",
    "parse_field_book",
    "read_field_book",
    "read_photo",
    "read_picture",
    "sample_field_book",
    "samples",
]
