"""Acquire: what was brought from the site.

In come picture files and a field book (TOML); out go :class:`~analyzer.records.Photo` (upright
sRGB pixels with hash, camera, time and place) and :class:`~analyzer.records.FieldBook`, both
checked as a whole. The only stage that reads what a person hands over; it changes no file.
"""

from analyzer.acquire.photo import list_pictures, read_photo, read_picture

__all__ = ["list_pictures", "read_photo", "read_picture"]
