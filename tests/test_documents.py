"""The documents name what the code has, and the reverse."""

from __future__ import annotations

import re
from pathlib import Path

from analyzer import terms

ROOT = Path(__file__).resolve().parent.parent
GUIDE = (ROOT / "DEVELOPERS.md").read_text("utf-8")
README = (ROOT / "README.md").read_text("utf-8")


def _glossary() -> set[str]:
    part = GUIDE[GUIDE.index("## Glossary") : GUIDE.index("## How to add a limit")]
    return set(re.findall(r"^\| ([^|]+?) \|", part, re.MULTILINE)) - {"word", "---"}


def test_glossary_and_code_have_the_same_words() -> None:
    joints = {str(k) for k in terms.JointKind} - {"unknown"}
    assert _glossary() == {str(d) for d in terms.Distress} | joints | {str(o) for o in terms.Option}


def test_readme_opens_with_one_paragraph_that_states_the_job() -> None:
    lines = README.split("\n\n")
    assert lines[0].startswith("# ")
    assert "overlay, patch or removal" in lines[1]
    assert lines[2].startswith("```")


def test_every_command_of_the_readme_exists_and_the_reverse() -> None:
    source = (ROOT / "analyzer/cli.py").read_text("utf-8")
    commands = set(re.findall(r'add\("(\w+)"', source))
    named = set(re.findall(r"(?:`|bin/)slab (\w+)", README))
    assert named == commands


def test_files_named_in_the_guide_exist() -> None:
    for name in re.findall(r"`((?:analyzer|tests|ui)/[\w/.]+)`", GUIDE):
        assert (ROOT / name).exists(), name
