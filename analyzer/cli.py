"""Command line: one short function a command; parses, calls the chain, prints, sets the exit code.

Exit codes: 0 done, 1 checked and found wrong (``verify``), 2 a sentence says what to correct,
130 stopped with Ctrl-C.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from analyzer import __version__
from analyzer.errors import ManyProblems, MissingPartError, SlabError, UnitError
from analyzer.terms import DetectMethod, Headline

_PAPERS = ("letter", "a4")


def run(arguments: Sequence[str]) -> int:
    """Run one command and return its exit code; errors become a sentence each on stderr."""
    parser = _parser()
    options = parser.parse_args(arguments)
    if options.command is None:
        parser.print_help()
        return 0
    try:
        code: int = options.call(options)
    except KeyboardInterrupt:
        _clear_progress()
        print("Stopped. Nothing was half-written.", file=sys.stderr)
        return 130
    except SlabError as error:
        _clear_progress()
        lines = error.lines() if isinstance(error, ManyProblems) else (error.told(),)
        if options.json:
            data = {"error": str(error), "kind": type(error).__name__, "lines": lines}
            print(json.dumps(data, ensure_ascii=False))
        print(f"slab {options.command}: " + "\n".join(lines), file=sys.stderr)
        return 2
    except BrokenPipeError:
        # The reader of our output (head, less) has left: nothing more to say.
        sys.stdout = None
        return 0
    except OSError as error:
        _clear_progress()
        print(
            f"slab {options.command}: {error.filename or 'a file'}: {error.strerror or error}; "
            "check the path and that you may read and write there.",
            file=sys.stderr,
        )
        return 2
    return code


def _parser() -> argparse.ArgumentParser:
    """All commands and their options."""
    parser = argparse.ArgumentParser(
        prog="slab",
        description="Measure an old concrete slab from photos, tape and level, and say whether to pour over "
        "it, patch it or break it out.",
        epilog="Not a code approval, warranty or structural opinion. Local codes and licensed practice come "
        "first.",
    )
    parser.add_argument("--version", action="version", version=f"slab {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")

    def add(name: str, call: Callable[[argparse.Namespace], int], about: str) -> argparse.ArgumentParser:
        command = commands.add_parser(name, help=about, description=about)
        command.add_argument("--json", action="store_true", help="print for a program instead of a person")
        command.set_defaults(call=call)
        return command

    demo = add("demo", _demo, "run the whole job on a shipped, invented sample")
    demo.add_argument("--sample", help="which sample; without a name the first; --list shows all")
    demo.add_argument("--list", action="store_true", help="list the samples")
    _out(demo, Path("slab-demo"))

    analyze = add("analyze", _analyze, "field book and photos to a recommendation in a job folder")
    analyze.add_argument(
        "field_book", type=Path, metavar="FIELDBOOK", help="TOML file; see `slab schema --blank`"
    )
    _out(analyze, None)
    _method(analyze)
    analyze.add_argument(
        "--mm-per-px", type=float, help="resolution of the plan picture; chosen from the photos"
    )
    _local(analyze)

    detect = add("detect", _detect, "score maps and crack mask of a bare picture or a folder of pictures")
    detect.add_argument("source", type=Path, metavar="PICTURE_OR_FOLDER")
    _out(detect, None)
    _method(detect)
    detect.add_argument("--mm-per-px", type=float, help="size of a pixel on the slab, if known")

    assess = add("assess", _assess, "recommendation from the field book alone, without photos")
    assess.add_argument("field_book", type=Path, metavar="FIELDBOOK")
    assess.add_argument("--out", type=Path, help="also write a job folder there")
    assess.add_argument("--force", action="store_true", help="replace an existing job folder")
    _local(assess)

    plan = add("plan", _plan, "grades, thicknesses and volumes of every option from the field book")
    plan.add_argument("field_book", type=Path, metavar="FIELDBOOK")
    plan.add_argument("--out", type=Path, metavar="DIR", help="also write SVG, DXF and CSV there")
    plan.add_argument("--force", action="store_true", help="replace a folder that this command wrote")
    _local(plan)

    jobs = add("jobs", _jobs, "list job folders below a folder")
    jobs.add_argument("folder", type=Path, metavar="DIR")
    jobs.add_argument("--word", help="only jobs with this word in their name, title or notes")
    jobs.add_argument("--since", metavar="YYYY-MM-DD", help="only visits from this day on")
    jobs.add_argument("--until", metavar="YYYY-MM-DD", help="only visits up to this day")
    jobs.add_argument("--recommendation", choices=[str(h) for h in Headline], help="only this recommendation")

    target = add("target", _target, "write the four numbered marker sheets to print (PDF)")
    _paper(target, Path("marker-sheets.pdf"))
    sheet = add("sheet", _sheet, "write the pencil sheet for the site (PDF)")
    _paper(sheet, Path("field-sheet.pdf"))

    schema = add("schema", _schema, "print the JSON Schema of the field book")
    schema.add_argument("--blank", action="store_true", help="print a field book to fill in instead")

    verify = add("verify", _verify, "check that no file of a job folder has changed")
    verify.add_argument("folder", type=Path, metavar="DIR")

    ui = add("ui", _ui, "open the page in a browser on this machine")
    ui.add_argument("--port", type=int, default=8501)
    ui.add_argument("--jobs", type=Path, metavar="DIR", help="where jobs are kept; default: your data folder")
    return parser


def _out(command: argparse.ArgumentParser, default: Path | None) -> None:
    command.add_argument(
        "--out", type=Path, required=default is None, default=default, metavar="DIR", help="folder to make"
    )
    command.add_argument("--force", action="store_true", help="replace a folder that this command wrote")


def _method(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--method",
        type=DetectMethod,
        choices=list(DetectMethod),
        default=DetectMethod.NETWORK,
        help="learned detector (default) or plain line filters",
    )


def _local(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--local", type=Path, metavar="TOML", help="limits of your jurisdiction, over the cited ones"
    )
    command.add_argument(
        "--prices", type=Path, metavar="FILE", help="your own price book (TOML or CSV), not the invented one"
    )


def _paper(command: argparse.ArgumentParser, default: Path) -> None:
    command.add_argument("--paper", choices=_PAPERS, default="letter")
    command.add_argument("--out", type=Path, default=default, metavar="FILE", help=f"default {default}")
    command.add_argument("--force", action="store_true", help="replace an existing file")


def _demo(options: argparse.Namespace) -> int:
    from analyzer import chain

    samples = chain.samples()
    if options.list:
        _print(options, {"samples": list(samples)}, "\n".join(samples))
        return 0
    return _run_job(options, chain.sample_field_book(options.sample), DetectMethod.NETWORK)


def _analyze(options: argparse.Namespace) -> int:
    if options.mm_per_px is not None and not 0.05 <= options.mm_per_px <= 20:
        raise UnitError("--mm-per-px", f"{options.mm_per_px} is out of range", "give 0.05 to 20 mm")
    own = (options.local, options.prices)
    return _run_job(options, options.field_book, options.method, options.mm_per_px, *own)


def _run_job(
    options: argparse.Namespace,
    field_book: Path,
    method: DetectMethod,
    mm_per_px: float | None = None,
    local: Path | None = None,
    prices: Path | None = None,
) -> int:
    from analyzer import chain

    chain.check_target(options.out, options.force)
    job = chain.analyze_job(field_book, method, mm_per_px, local, _progress, prices)
    folder = chain.file_job(job, field_book, options.out, options.force, _progress)
    _clear_progress()
    _print_job(options, job, folder)
    return 0


def _assess(options: argparse.Namespace) -> int:
    from analyzer import chain

    if options.out:
        chain.check_target(options.out, options.force)
    job = chain.assess_job(options.field_book, options.local, _progress, options.prices)
    folder = chain.file_job(job, options.field_book, options.out, options.force) if options.out else None
    _clear_progress()
    _print_job(options, job, folder)
    return 0


def _print_job(options: argparse.Namespace, job: Any, folder: Any) -> None:
    """Recommendation for a person, or the whole record for a program."""
    from analyzer import chain

    print(chain.told(job.record, folder, options.json))


def _plan(options: argparse.Namespace) -> int:
    from analyzer import chain

    job = chain.assess_job(options.field_book, options.local, _progress, options.prices)
    text = chain.told_plans(job.record, options.json, options.out, options.force)
    _clear_progress()
    print(text)
    return 0


def _detect(options: argparse.Namespace) -> int:
    from analyzer import chain

    lines = chain.detect_pictures(
        options.source, options.out, options.method, options.mm_per_px, options.force, _progress
    )
    _clear_progress()
    if options.json:
        print(
            json.dumps(
                {"out": str(options.out), "pictures": [dataclasses.asdict(x) for x in lines]},
                ensure_ascii=False,
            )
        )
        return 0
    for line in lines:
        if line.problem:
            print(line.problem)
            continue
        doubt = (
            f"; this may not be a slab (probability {line.slab_probability:.2f})"
            if line.slab_probability is not None and line.slab_probability < chain.SLAB_PROBABILITY_MIN
            else ""
        )
        print(
            f"{line.file_name}: {line.n_cracks} cracks of {line.crack_length_px:.0f} px in all, "
            f"{line.n_joints} joints{doubt}"
        )
    print(f"Written to {options.out}")
    return 0


def _jobs(options: argparse.Namespace) -> int:
    from analyzer import chain

    found = chain.jobs(options.folder, options.word, options.since, options.until, options.recommendation)
    if options.json:
        print(json.dumps({"jobs": [dataclasses.asdict(x) for x in found]}, ensure_ascii=False))
        return 0
    for line in found:
        print(
            f"{line.folder}: cannot be read ({line.problem})"
            if line.problem
            else f"{line.date}  {line.headline:<22}  {line.job_id:<20}  {line.title}  ({line.folder})"
        )
    if not found:
        print("No job found.")
    return 0


def _target(options: argparse.Namespace) -> int:
    from analyzer import chain

    chain.write_target_sheets(options.paper, options.out, options.force)
    _print(
        options,
        {"file": str(options.out)},
        f"{options.out}: print at 100 %, check the ruler with a tape; four sheets round the area are best.",
    )
    return 0


def _sheet(options: argparse.Namespace) -> int:
    from analyzer import chain

    chain.write_field_sheet(options.paper, options.out, options.force)
    _print(options, {"file": str(options.out)}, f"{options.out}: take it to the site and type it in later.")
    return 0


def _schema(options: argparse.Namespace) -> int:
    from analyzer import chain

    if options.blank:
        print(chain.blank_field_book(), end="")
    else:
        print(json.dumps(chain.field_book_schema(), indent=2, ensure_ascii=False))
    return 0


def _verify(options: argparse.Namespace) -> int:
    from analyzer import chain

    check = chain.verify(options.folder)
    if options.json:
        print(
            json.dumps(
                {"ok": check.ok, **dataclasses.asdict(check), "folder": str(check.folder)}, ensure_ascii=False
            )
        )
    elif check.ok:
        print(f"{options.folder}: all {check.n_files} files are as they were written.")
        print("This proves against accident, not against a forger, who could write new sums as well.")
    else:
        for what in ("changed", "missing", "unexpected", "malformed"):
            for name in getattr(check, what):
                print(f"{what}: {name}")
    return 0 if check.ok else 1


def _ui(options: argparse.Namespace) -> int:
    import importlib.util
    import os

    found = importlib.util.find_spec("ui")
    if found is None or not found.submodule_search_locations:
        raise MissingPartError("the page", "is not installed", "install the package with its ui folder")
    app = Path(found.submodule_search_locations[0]) / "app.py"
    command = [sys.executable, "-m", "streamlit", "run", str(app), "--server.port", str(options.port)]
    # The page answers this machine alone: photos of somebody's house do not belong on the network.
    command += ["--server.address", "127.0.0.1", "--browser.gatherUsageStats", "false"]
    command += ["--client.toolbarMode", "minimal", "--theme.base", "light", "--theme.primaryColor", "#7a2230"]
    command += ["--theme.textColor", "#111111", "--server.maxUploadSize", "60"]
    command += ["--client.showErrorDetails", "none"]
    if options.jobs is not None:
        os.environ["SLAB_JOBS"] = str(options.jobs.absolute())
    sys.stdout.flush()
    # The server takes this process's place, so that stopping the command stops the page.
    os.execv(sys.executable, command)


def _print(options: argparse.Namespace, data: dict[str, Any], text: str) -> None:
    """The same answer for a program or a person."""
    print(json.dumps(data, ensure_ascii=False) if options.json else text)


def _progress(step: str) -> None:
    """One line that changes, on a terminal; nothing when piped."""
    if sys.stderr.isatty():
        print(f"\r\x1b[2K{step} …", end="", file=sys.stderr, flush=True)


def _clear_progress() -> None:
    if sys.stderr.isatty():
        print("\r\x1b[2K", end="", file=sys.stderr, flush=True)
