"""The command line: open, check, explain, list, picture, new.

Exit codes: 0 clear, 1 something found at or above the asked severity, 2 bad input or usage. A traceback is a defect.
Heavy imports wait until a command needs them.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click
import msgspec

from loopwright import __version__
from loopwright.errors import LoopwrightError

if TYPE_CHECKING:
    from loopwright.catalogue import Catalogue, Kind
    from loopwright.rules import Finding
    from loopwright.sheet.values import Sheet
    from loopwright.survey import Survey

CLEAR, FOUND, BAD = 0, 1, 2
_COLOURS = {"danger": "red", "fault": "yellow", "advice": "blue"}
CAUTION = (
    "loopwright supports a competent person and never replaces one. Local codes, the appliance maker's instructions "
    "and licensed practice take precedence. Never light a fire on a system that is not filled and vented."
)


class _Group(click.Group):
    """Opens a sheet when the first word is no command."""

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        if args and args[0] not in self.commands and not args[0].startswith("-"):
            args = ["open", *args]
        return super().resolve_command(ctx, args)


@click.group(cls=_Group, invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="loopwright")
@click.pass_context
def cli(ctx: click.Context) -> None:
    """Draw heat-store pipework as a section through the house and see what is unsafe or will not work.

    `loopwright FILE` opens a sheet; without a file, an empty one.
    """
    if ctx.invoked_subcommand is None:
        ctx.invoke(open_sheet, file=None)


def main() -> NoReturn:
    """Entry point."""
    try:
        code = cli.main(standalone_mode=False)
        sys.exit(code if isinstance(code, int) else CLEAR)
    except LoopwrightError as bad:
        _complain(bad)
        sys.exit(BAD)
    except click.exceptions.Abort:
        sys.exit(BAD)
    except click.ClickException as bad:
        bad.show()
        sys.exit(BAD)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(CLEAR)


def _complain(bad: LoopwrightError) -> None:
    click.echo(f"loopwright: {bad.sentence}", err=True)


def _catalogue() -> Catalogue:
    from loopwright.catalogue import standard_catalogue, user_catalogue

    folder = kinds_folder()
    return user_catalogue(folder) if folder.is_dir() and any(folder.glob("*.toml")) else standard_catalogue()


def kinds_folder() -> Path:
    """Where a person keeps kinds of their own."""
    import platformdirs

    return Path(os.environ.get("LOOPWRIGHT_KINDS") or Path(platformdirs.user_data_dir("loopwright")) / "kinds")


def _load(path: Path, catalogue: Catalogue) -> Sheet:
    from loopwright.files.reader import load

    return load(path, catalogue)


# -- open ---------------------------------------------------------------------------------------------------------


@cli.command("open")
@click.argument("file", type=click.Path(path_type=Path), required=False)
def open_sheet(file: Path | None) -> int:
    """Open a sheet in the window; with no screen, print its survey instead."""
    if file is not None and not file.exists():
        raise LoopwrightError(f"There is no file {file}", do="Check the name, or start one with `loopwright new`")
    if not _has_screen():
        click.echo("No screen is available, so the survey is printed instead of the window.", err=True)
        if file is None:
            click.echo("Name a sheet to survey: loopwright FILE", err=True)
            return BAD
        catalogue = _catalogue()
        sheet = _load(file, catalogue)
        _print_survey(str(file), sheet, _survey(sheet, catalogue))
        return CLEAR
    from loopwright.window.app import run

    return run(file)


def _has_screen() -> bool:
    if sys.platform in ("win32", "darwin") or os.environ.get("QT_QPA_PLATFORM"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


# -- check --------------------------------------------------------------------------------------------------------


@cli.command()
@click.argument("files", type=click.Path(path_type=Path), nargs=-1, required=True)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", help="How to answer.")
@click.option(
    "--fail-on",
    type=click.Choice(["danger", "fault", "advice", "never"]),
    default="fault",
    help="Least severity that makes the exit code 1.",
)
@click.option("--computed", is_flag=True, help="Also the rules that work out the flow, which take some seconds.")
@click.option("--repair", is_flag=True, help="Put right what safely can be, and judge the repaired sheet.")
@click.option("-o", "--out", type=click.Path(path_type=Path), help="Where to write the repaired sheet.")
def check(files: tuple[Path, ...], form: str, fail_on: str, computed: bool, repair: bool, out: Path | None) -> int:
    """Check sheets against every rule."""
    catalogue = _catalogue()
    if repair or out is not None:
        sheet, steps = _repaired(files, repair, out, catalogue)
        result = _survey(sheet, catalogue, computed)
        if form == "json":
            answer = [{**_as_json(files[0], result), "written": str(out), "repaired": steps}]
            click.echo(msgspec.json.format(msgspec.json.encode(answer)).decode())
        else:
            for step in steps:
                click.echo(f"{step['did']}.")
                click.secho(f"     {step['rule']}: {step['message']}", dim=True)
            click.echo(f"{len(steps)} {'repair' if len(steps) == 1 else 'repairs'} made; wrote {out}\n")
            _print_survey(str(out), sheet, result)
        return _verdict([result], fail_on)
    results: list[tuple[Path, Survey]] = []
    refused = False
    for file in files:
        try:
            sheet = _load(file, catalogue)
        except LoopwrightError as bad:
            _complain(bad)
            refused = True
            continue
        result = _survey(sheet, catalogue, computed)
        results.append((file, result))
        if form == "text":
            _print_survey(str(file), sheet, result)
    if form == "json":
        click.echo(msgspec.json.format(msgspec.json.encode([_as_json(f, s) for f, s in results])).decode())
    if refused:
        return BAD
    return _verdict([s for _, s in results], fail_on)


def _verdict(results: list[Survey], fail_on: str) -> int:
    from loopwright.rules import Severity

    if fail_on == "never":
        return CLEAR
    least = Severity[fail_on.upper()]
    return FOUND if any((s.worst() or 0) >= least for s in results) else CLEAR


def _repaired(
    files: tuple[Path, ...], repair: bool, out: Path | None, catalogue: Catalogue
) -> tuple[Sheet, list[dict[str, str]]]:
    """One sheet repaired and written to another file, and what was done to it."""
    from loopwright.files.writer import save
    from loopwright.rules.repairs import repair_all
    from loopwright.survey import survey

    if not repair:
        raise LoopwrightError("A file to write was named, and nothing to do to it", do="Add --repair")
    if out is None or len(files) != 1:
        raise LoopwrightError(
            "Repairing takes one sheet and writes one new file",
            do="Try: loopwright check job.loopwright --repair -o repaired.loopwright",
        )
    if out.exists():
        raise LoopwrightError(f"{out} is there already", do="Name another file")
    sheet, done = repair_all(_load(files[0], catalogue), catalogue, survey)
    save(sheet, out)
    return sheet, [{"rule": f.rule, "subject": f.subject, "message": f.message, "did": r.label} for f, r in done]


def _survey(sheet: Sheet, catalogue: Catalogue, computed: bool = False) -> Survey:
    from loopwright.survey import survey

    return survey(sheet, catalogue, computed=computed)


def _finding_json(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "severity": finding.severity.word,
        "number": finding.number,
        "about": [finding.subject, *[c for c in finding.culprits if c != finding.subject]],
        "subject": finding.subject,
        "culprits": list(finding.culprits),
        "message": finding.message,
        "measured": finding.measured,
        "limit": finding.limit,
        "unit": finding.unit,
        "repair": finding.todo,
        "sources": list(finding.sources),
        "condition": finding.condition,
        "also": list(finding.also),
        "path": list(finding.path),
    }


def _as_json(file: Path, result: Survey) -> dict[str, Any]:
    return {
        "file": str(file),
        "counts": result.counts(),
        "findings": [_finding_json(f) for f in result.findings],
        "answers": [
            {"rule": a.rule, "outcome": str(a.outcome), "subject": a.subject, "because": a.because}
            for a in result.answers
        ],
    }


def _print_survey(name: str, sheet: Sheet, result: Survey) -> None:
    from loopwright.rules import Outcome, Severity

    click.secho(f"{sheet.title}  ({name})", bold=True)
    for severity in reversed(Severity):
        findings = [f for f in result.findings if f.severity is severity]
        if not findings:
            continue
        click.secho(f"\n{severity.word.capitalize()}", fg=_COLOURS[severity.word], bold=True)
        for finding in findings:
            click.echo(f" {finding.number:>2}. {finding.message}")
            click.echo(f"     {finding.todo}")
            about = ", ".join(dict.fromkeys((finding.subject, *finding.culprits)))
            under = f"; under: {finding.condition}" if finding.condition else ""
            click.secho(f"     {finding.rule}; about {about}{under}", dim=True)
            if finding.also:
                click.secho(f"     also: {', '.join(finding.also)}", dim=True)
    missing = [a for a in result.answers if a.outcome is Outcome.NOT_ASSESSED]
    if missing:
        click.echo("\nNot assessed")
        for answer in missing:
            click.echo(f"  ?  {answer.rule}: {answer.because}")
    counts = result.counts()
    ruled = len({a.rule for a in result.answers})
    said = ", ".join(f"{_many(counts[w], w)}" for w in ("danger", "fault", "advice"))
    click.echo(f"\nAll {ruled} rules answered: {said}, {counts['not assessed']} not assessed.")
    click.secho(CAUTION + "\n", dim=True)


def _many(count: int, word: str) -> str:
    plural = word if word == "advice" else word + "s"
    return f"no {word}" if count == 0 else f"{count} {word if count == 1 else plural}"


# -- figures ------------------------------------------------------------------------------------------------------


@cli.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--format", "form", type=click.Choice(["text", "json", "csv"]), default="text")
@click.option(
    "--condition",
    type=click.Choice(["normal", "power-cut"]),
    default="normal",
    help="What the figures of the flow are worked out for.",
)
def figures(file: Path, form: str, condition: str) -> int:
    """Compute the figures of a sheet, each with its equation, inputs and source."""
    import csv

    from loopwright.engineering.figures import Figure
    from loopwright.engineering.figures import figures as compute
    from loopwright.waterways import Waterways
    from loopwright.waterways.views import NORMAL, POWER_CUT

    catalogue = _catalogue()
    chosen = POWER_CUT if condition == "power-cut" else NORMAL
    found = compute(Waterways(_load(file, catalogue), catalogue), chosen)
    if form == "json":
        click.echo(msgspec.json.format(msgspec.json.encode(found)).decode())
        return CLEAR
    if form == "csv":
        out = csv.writer(sys.stdout)
        out.writerow(["group", "name", "value", "unit", "equation", "inputs", "source", "about"])
        for f in found:
            if isinstance(f, Figure):
                inputs = "; ".join(f"{i.name} {i.value:g} {i.unit}".strip() for i in f.inputs)
                out.writerow(
                    [f.group, f.name, f"{f.value:.6g}", f.unit, f.equation, inputs, f.source, " ".join(f.about)]
                )
        return CLEAR
    group = ""
    for f in found:
        if f.group != group:
            group = f.group
            click.secho(f"\n{group}", bold=True)
        if isinstance(f, Figure):
            click.echo(f"  {f.name:<52} {f.value:>9.4g} {f.unit}{'  (' + f.note + ')' if f.note else ''}")
            inputs = ", ".join(
                f"{i.name} {i.value:.4g} {i.unit}".strip() + (" assumed" if i.assumed else "") for i in f.inputs
            )
            click.secho(f"      {f.equation}; {inputs}; {f.source}", dim=True)
        else:
            click.echo(f"  {f.name:<52} not assessed: {f.missing} is missing")
    click.echo()
    return CLEAR


# -- rules --------------------------------------------------------------------------------------------------------


@cli.command()
@click.argument("slug", required=False)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text")
def rules(slug: str | None, form: str) -> int:
    """List the rules, or explain one."""
    from loopwright.rules import all_rules, page
    from loopwright.rules.registry import facts

    known = all_rules(computed=True)
    if slug:
        found = page(slug)
        if slug not in known:
            click.echo("This rule is described but not answered yet.\n", err=True)
        if form == "json":
            click.echo(msgspec.json.format(msgspec.json.encode(found)).decode())
            return CLEAR
        click.secho(f"{found.title}  ({found.severity})", bold=True)
        click.echo(found.text)
        if found.sources:
            click.echo("\nSources")
        for key in found.sources:
            fact = facts()[key]
            click.echo(f"  {key}: {fact.says} ({fact.source})")
        return CLEAR
    if form == "json":
        out = [
            {
                "slug": s,
                "title": page(s).title,
                "severity": page(s).severity,
                "about": r.kinds,
                "yields_to": list(r.yields_to),
            }
            for s, r in known.items()
        ]
        click.echo(msgspec.json.format(msgspec.json.encode(out)).decode())
        return CLEAR
    theme = ""
    for known_slug, rule in known.items():
        if rule.theme != theme:
            theme = rule.theme
            click.secho(f"\n{theme}", bold=True)
        found = page(known_slug)
        click.echo(f"  {known_slug:<42} {found.severity:<7} {found.title}")
    return CLEAR


# -- kinds --------------------------------------------------------------------------------------------------------


@cli.command()
@click.argument("name", required=False)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text")
def kinds(name: str | None, form: str) -> int:
    """List kinds of part, or show one with its ports and properties."""
    catalogue = _catalogue()
    if form == "json":
        chosen = [catalogue[name]] if name else list(catalogue)
        click.echo(msgspec.json.format(msgspec.json.encode(chosen)).decode())
        return CLEAR
    if name:
        _print_kind(catalogue[name])
        return CLEAR
    for group, members in catalogue.groups().items():
        click.secho(f"\n{group}", bold=True)
        for kind in members:
            ports = ", ".join(p.name for p in kind.ports) or ("tappings" if kind.body else "none")
            click.echo(f"  {kind.id:<28} {kind.name:<36} ports: {ports}")
    return CLEAR


def _print_kind(kind: Kind) -> None:
    click.secho(f"{kind.name}  ({kind.id}, {kind.group})", bold=True)
    click.echo(kind.help)
    if kind.synonyms:
        click.echo(f"Also called: {', '.join(kind.synonyms)}")
    click.echo("\nPorts")
    for port in kind.ports:
        click.echo(
            f"  {port.name:<16} leaves {port.side:<6} {port.role}{' (may stand unused)' if port.optional else ''}"
        )
    if kind.body in ("store", "cylinder"):
        click.echo("  tappings, by letter or name")
    click.echo("\nWays")
    for way in kind.ways:
        click.echo(f"  {way.name:<16} {way.a} -> {way.b}: {way.does.value.replace('_', ' ')}")
    if kind.props:
        click.echo("\nProperties")
    for prop in kind.props:
        default = "asked for" if prop.default is None else f"{prop.default} {prop.unit}".strip()
        usual = f"; usual {prop.usual[0]:g} to {prop.usual[1]:g}" if prop.usual else ""
        click.echo(f"  {prop.name:<22} {default}{usual}\n      {prop.help}")


# -- picture and new ----------------------------------------------------------------------------------------------


@cli.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("-o", "--out", type=click.Path(path_type=Path), required=True, help="NAME.svg, .png or .pdf")
def picture(file: Path, out: Path) -> int:
    """Draw a sheet to a file, with its findings as numbered flags."""
    ending = out.suffix.lower()
    if ending not in (".svg", ".png", ".pdf"):
        raise LoopwrightError(f"{out.name} ends in no known form", do="End it in .svg, .png or .pdf")
    if not out.parent.is_dir():
        raise LoopwrightError(f"There is no folder {out.parent}", do="Make it first, or name another")
    catalogue = _catalogue()
    sheet = _load(file, catalogue)
    result = _survey(sheet, catalogue)
    from loopwright.drawing.flags import flags_of

    flags = flags_of(result.findings)
    if ending == ".svg":
        from loopwright.drawing.svg import sheet_svg
        from loopwright.files.writer import write_bytes

        write_bytes(out, sheet_svg(sheet, catalogue, result.services, flags).encode())
    else:
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
        from loopwright.canvas.export import application, to_pdf, to_png

        app = application()  # kept alive while the picture is drawn
        (to_pdf if ending == ".pdf" else to_png)(out, sheet, catalogue, result.services, flags)
        del app
    return CLEAR


@cli.command()
@click.argument("starter", required=False)
@click.option("-o", "--out", type=click.Path(path_type=Path), help="Where to write the new sheet.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
def new(starter: str | None, out: Path | None, force: bool) -> int:
    """Start a sheet from a starter system; without a name, list them."""
    from loopwright.files.writer import save
    from loopwright.resources import resource_root

    there = {p.stem: p for p in sorted((resource_root() / "starters").glob("*.loopwright"))}
    if not starter:
        catalogue = _catalogue()
        for stem, path in there.items():
            click.echo(f"  {stem:<28} {_load(path, catalogue).title}")
        return CLEAR
    if starter not in there:
        raise LoopwrightError(f"There is no starter “{starter}”", do=f"Choose one of {', '.join(there)}")
    if out is None:
        raise LoopwrightError(
            "No file was named for the new sheet", do=f"Try: loopwright new {starter} -o job.loopwright"
        )
    if out.exists() and not force:
        raise LoopwrightError(f"{out} is there already", do="Name another file, or add --force")
    save(_load(there[starter], _catalogue()), out)
    click.echo(f"Wrote {out}")
    return CLEAR
