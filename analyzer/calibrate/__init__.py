"""Stage calibrate: scale. In come upright photos, their entries and the field book's outline and
sheet places; out go, for each photo, the homography ``plan_from_px`` with its uncertainty, and one
plan image in which every spot of the slab is taken from the photo that resolves it best. The
marker sheets that make this easy are drawn here too.
"""

from analyzer.calibrate.markers import find_sheets
from analyzer.calibrate.plan_image import choose_mm_per_px, lay_plan_image
from analyzer.calibrate.scale import calibrate_photo, calibrate_photos, mm_per_px_in_the_middle
from analyzer.calibrate.target_sheet import sheet_from_picture, sheet_picture, target_sheets

__all__ = [
    "calibrate_photo",
    "calibrate_photos",
    "choose_mm_per_px",
    "find_sheets",
    "lay_plan_image",
    "mm_per_px_in_the_middle",
    "sheet_from_picture",
    "sheet_picture",
    "target_sheets",
]
