"""The shape of the package, held by parsing it: stages, imports, sizes, one place for each thing."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "analyzer"
STAGES = (
    "acquire",
    "calibrate",
    "detect",
    "measure",
    "observe",
    "propose",
    "rate",
    "score",
    "takeoff",
    "transmit",
)
APART = {"archive", "training", "records"}
BASE = {"errors", "units", "terms", "records", "frames", "phrase_tables"}
ABOVE = {"chain", "batch", "cli", "__main__"}
BASE_MAY_IMPORT = {
    "errors": set(),
    "units": {"errors"},
    "terms": set(),
    "records": {"errors", "units", "terms", "records"},
    "frames": {"records"},
    "phrase_tables": {"errors"},
}
IMAGE_LIBRARIES = {"cv2", "skimage", "PIL", "pillow_heif", "onnxruntime"}
MODULES = sorted(p for p in PACKAGE.rglob("*.py") if p.name != "__init__.py")
FILES = sorted([*PACKAGE.rglob("*.py"), *(ROOT / "ui").rglob("*.py")])


def imports_of(path: Path) -> set[str]:
    """Dotted names that a file imports, also inside functions."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            names |= {f"{node.module}.{alias.name}" for alias in node.names} | {node.module}
        elif isinstance(node, ast.ImportFrom) and node.level > 1:
            pytest.fail(f"{path.relative_to(ROOT)} reaches outside its folder with a relative import")
    return names


def inner_parts(path: Path) -> set[str]:
    """First component below ``analyzer`` of everything that a file imports from the package."""
    found = {n.split(".")[1] for n in imports_of(path) if n.startswith("analyzer.")}
    return {n for n in found if (PACKAGE / n).is_dir() or (PACKAGE / f"{n}.py").exists()}


def home(path: Path) -> str:
    """The part of the package a file lives in: a stage or a base module's name."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def test_stage_folders_sort_in_the_order_of_the_work() -> None:
    folders = sorted(p.name for p in PACKAGE.iterdir() if p.is_dir() and (p / "__init__.py").exists())
    assert tuple(f for f in folders if f not in APART) == STAGES


def test_the_chain_names_the_stages_in_their_order() -> None:
    text = (PACKAGE / "chain.py").read_text(encoding="utf-8")
    walk = text[text.index("def analyze_job") :]
    calls = re.findall(r"\b(" + "|".join(STAGES) + r")\.\w+\(", walk)
    first = [calls.index(stage) for stage in STAGES if stage in calls]
    assert first == sorted(first)
    assert len(first) >= 9


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_file_over_400_lines(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_module_imports_only_what_it_may(path: Path) -> None:
    where = home(path)
    used = inner_parts(path) - {where}
    if where in BASE:
        assert used <= BASE_MAY_IMPORT[where]
    elif where in STAGES:
        assert used <= BASE, f"a stage imports {used - BASE}"
    elif where == "training":
        # The training code measures the network through the product's own inference, and lays the
        # product's own marker sheets on the slabs it draws. Nothing imports it in turn.
        assert used <= BASE | {"detect", "calibrate"}
    elif where == "archive":
        assert used <= BASE | {"transmit"}
    elif where == "chain":
        assert used <= BASE | set(STAGES)
    elif where == "batch":
        assert used <= BASE | {"chain"}
    elif where in {"cli", "__main__"}:
        assert used <= BASE | {"chain", "batch", "archive", "cli"}
    else:
        pytest.fail(f"{path.relative_to(ROOT)} is in no known part")


def test_nothing_below_imports_what_is_above() -> None:
    for path in MODULES:
        if home(path) not in ABOVE:
            assert not inner_parts(path) & ABOVE, path
            assert "training" not in inner_parts(path) or home(path) == "training", path


def test_streamlit_only_in_the_front() -> None:
    for path in PACKAGE.rglob("*.py"):
        assert not any(n.split(".")[0] == "streamlit" for n in imports_of(path)), path


def test_the_front_holds_no_measurement_or_rule() -> None:
    allowed = BASE | {"chain", "archive", "transmit"}
    for path in (ROOT / "ui").rglob("*.py"):
        assert inner_parts(path) <= allowed, path
        assert not {n.split(".")[0] for n in imports_of(path)} & {"cv2", "skimage", "scipy"}, path


def test_rate_and_score_need_no_image_library() -> None:
    for stage in ("rate", "score", "observe", "propose", "takeoff"):
        for path in (PACKAGE / stage).rglob("*.py"):
            assert not {n.split(".")[0] for n in imports_of(path)} & IMAGE_LIBRARIES, path


FACTOR = re.compile(
    r"(?<![\d.])(25\.4|304\.8|645\.16|92903|0\.3048|0\.0254|0\.7645\d*|0\.4535\d*|6\.894\d*|16\.018\d*)(?!\d)"
)


def test_conversion_factors_live_in_units_alone() -> None:
    for path in FILES:
        if path.name == "units.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, float):
                assert not FACTOR.fullmatch(repr(node.value)), (
                    f"{path.relative_to(ROOT)}:{node.lineno} {node.value}"
                )


def test_files_are_opened_at_the_ends_and_in_rule_loaders_only() -> None:
    may_open = {"acquire", "transmit", "training", "archive"}
    loaders = re.compile(
        r"(limits|options|design|readings|order|price|network|evidence|rules|tables)\w*\.py$"
    )
    for path in MODULES:
        if home(path) in may_open or loaders.search(path.name):
            continue
        text = path.read_text(encoding="utf-8")
        assert not re.search(
            r"(?<!\w)open\(|\.read_text\(|\.write_text\(|\.read_bytes\(|\.write_bytes\(|imwrite|imread", text
        ), path


def test_every_module_has_its_test_file() -> None:
    missing = []
    for path in MODULES:
        inside = path.relative_to(PACKAGE)
        if inside.parts[0] == "records":  # data without behaviour: one test file holds them all
            continue
        if inside.name == "__main__.py" or inside.parts[:2] == ("training", "run"):
            continue
        expected = ROOT / "tests" / inside.parent / f"test_{inside.name}"
        if not expected.exists():
            missing.append(str(inside))
    assert not missing


def test_every_public_function_says_what_it_does() -> None:
    missing = []
    for path in MODULES:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        if not ast.get_docstring(tree):
            missing.append(f"{path.relative_to(ROOT)} module")
        for node in tree.body:
            if (
                isinstance(node, ast.FunctionDef | ast.ClassDef)
                and not node.name.startswith("_")
                and not ast.get_docstring(node)
            ):
                missing.append(f"{path.relative_to(ROOT)}:{node.lineno} {node.name}")
    assert not missing


def test_top_level_holds_only_what_the_customer_allows() -> None:
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "analyzer", "ui", "sample_images", "tests"}
    found = {p.name for p in ROOT.iterdir() if not p.name.startswith(".")}
    made_by_tools = {n for n in found if n.endswith(".egg-info") or n in {"build", "dist", "shared"}}
    made_by_the_demo = {n for n in found if n.startswith("slab-")}
    assert found - made_by_tools - made_by_the_demo <= allowed
