"""Stage transmit: the finished record goes out as a report and a job folder that can be checked.

In: :class:`JobRecord` and the pictures it was read from. Out: HTML and PDF report, annotated
pictures, drawings of the grades (SVG, DXF, set-out CSV), lines as CSV and GeoJSON, all in one BagIt
folder; also the same plans alone, and the sheets to print before a visit.
"""

from analyzer.transmit.console import job_json, job_lines
from analyzer.transmit.grade_figure import section_svg, set_out_svg, thickness_svg
from analyzer.transmit.job_folder import (
    JobFolder,
    JobLine,
    Verification,
    is_job_folder,
    list_jobs,
    read_job,
    verify_job,
    write_job,
)
from analyzer.transmit.job_report import report_files
from analyzer.transmit.photo_figure import annotated_photo, annotated_picture, annotated_plan, plain_picture
from analyzer.transmit.plan_console import plan_lines, plans_json
from analyzer.transmit.plan_dxf import plan_dxf
from analyzer.transmit.plan_figure import plan_svg
from analyzer.transmit.plan_files import plan_files, set_out_csv, write_plans
from analyzer.transmit.provenance import collect_provenance
from analyzer.transmit.record_json import plain, record_from_json, record_to_json
from analyzer.transmit.safe_folder import whole_folder, write_whole_file
from analyzer.transmit.score_pictures import is_detection_folder, write_detection
from analyzer.transmit.sheets import field_sheet_pdf, target_sheets_pdf

__all__ = [
    "JobFolder",
    "JobLine",
    "Verification",
    "annotated_photo",
    "annotated_picture",
    "annotated_plan",
    "collect_provenance",
    "field_sheet_pdf",
    "is_detection_folder",
    "is_job_folder",
    "job_json",
    "job_lines",
    "list_jobs",
    "plain",
    "plain_picture",
    "plan_dxf",
    "plan_files",
    "plan_lines",
    "plan_svg",
    "plans_json",
    "read_job",
    "record_from_json",
    "record_to_json",
    "report_files",
    "section_svg",
    "set_out_csv",
    "set_out_svg",
    "target_sheets_pdf",
    "thickness_svg",
    "verify_job",
    "whole_folder",
    "write_detection",
    "write_job",
    "write_plans",
    "write_whole_file",
]
