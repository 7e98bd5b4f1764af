"""``riskcut``: its commands, and what each way of ending means.

Nothing heavy is imported here: ``riskcut --help`` answers at once, and each command imports what it
needs when it runs.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click

from riskcut import __version__

EXIT_CODES = """
\b
Exit codes:
  0    done (whether or not a target is met: read the table)
  1    a fault of riskcut itself
  2    a study, a results file or an argument that cannot be used; nothing was written
  3    the study could not be analysed to the end; nothing was written
  130  interrupted; an earlier results file is untouched
"""

STUDY = click.argument("study", type=click.Path(exists=True, dir_okay=False, path_type=Path))


def cores() -> int:
    """Return how many processes to compute on: the cores that this one may use, at most 8."""
    usable = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return min(usable, 8)


@click.group(
    epilog=EXIT_CODES,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, prog_name="riskcut")
def commands() -> None:
    """Put numbers on the risk of a deep excavation.

    A study file describes ground, water, loads, works and stages; any number in it may be uncertain. Out
    come the probability that each part fails at each stage, with its error, and the inputs that decide it.

    Results support the judgement of a competent engineer; local codes and licensed practice decide.
    """


@commands.command()
@click.argument("situation", required=False)
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--list", "listed", is_flag=True, help="List the situations, with one sentence each.")
def new(situation: str | None, file: Path | None, listed: bool) -> None:
    """Write a commented study of a SITUATION to FILE, to put your own numbers in.

    FILE is SITUATION.yaml in this folder unless stated; a file that is there is never overwritten.
    """
    from riskcut.cli.new import listing, write

    click.echo(listing() if listed else write(situation or "", file))


@commands.command()
@click.option("--out", type=click.Path(path_type=Path), help="File to write it to, instead of printing it.")
def schema(out: Path | None) -> None:
    """Print the JSON Schema of a study file: by it an editor shows meaning and unit of each key."""
    from riskcut.cli.schema import write
    from riskcut.study.json_schema import as_text

    click.echo(as_text() if out is None else write(out), nl=out is not None)


@commands.command()
@STUDY
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
def check(study: Path, as_json: bool) -> None:
    """Read STUDY, tell every fault in it with its line, and say what a run would analyse."""
    from riskcut.cli.check import report

    click.echo(report(study, as_json=as_json))


@commands.command()
@STUDY
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("out"),
    show_default=True,
    help="Folder for the results file and the figures.",
)
@click.option(
    "--seed", type=click.IntRange(0, 2**63 - 1), default=1, show_default=True, help="Of all random draws."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the table.")
@click.option("--quiet", is_flag=True, help="No progress on standard error.")
@click.option(
    "--workers",
    type=click.IntRange(1, 256),
    default=cores,
    show_default="the cores there are, at most 8",
    help="Processes to compute on, where the system can fork; the answer is the same for any number.",
)
@click.option("--figures/--no-figures", default=True, show_default=True, help="Draw the figures.")
@click.option(
    "--method",
    type=click.Choice(["auto", "plain"]),
    default="auto",
    show_default=True,
    help="auto aims samples at rare failures; plain simulation alone gives bounds for what it does not see.",
)
@click.option("--dry-run", is_flag=True, help="Say what a run would take, and write nothing.")
def run(
    study: Path,
    out: Path,
    seed: int,
    method: str,
    as_json: bool,
    quiet: bool,
    workers: int,
    figures: bool,
    dry_run: bool,
) -> None:
    """Analyse STUDY: failure probabilities, what drives them, a netCDF file and figures.

    STUDY may also be the results file of an earlier run: the study and the data inside it are run again.
    """
    if dry_run:
        from riskcut.cli.dry_run import dry_run as told

        click.echo(told(study, seed=seed, method=method, as_json=as_json))
        return
    from riskcut.cli.run import run_study

    click.echo(
        run_study(
            study,
            out=out,
            seed=seed,
            method=method,
            as_json=as_json,
            quiet=quiet,
            workers=workers,
            figures=figures,
        )
    )


@commands.command()
@click.argument("results", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--every", is_flag=True, help="Every estimate, stage by stage, instead of the worst of each.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
def show(results: Path, every: bool, as_json: bool) -> None:
    """Tell a RESULTS file (netCDF) again: its answer, how it was computed, what went in."""
    from riskcut.cli.show import show as shown

    click.echo(shown(results, as_json=as_json, every=every))


@commands.command()
@click.argument("results", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--limit-state", help="Its name, mechanism/member, or the member alone.")
@click.option("--section", help="A section; the worst unless stated.")
@click.option("--stage", help="A stage; the worst unless stated.")
def sheet(results: Path, limit_state: str | None, section: str | None, stage: str | None) -> None:
    """Write out by hand each governing limit state of RESULTS at its worst, or one: at means and design point."""
    from riskcut.cli.sheet import sheets

    click.echo(sheets(results, limit_state=limit_state, section=section, stage=stage))


@commands.command()
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
def mechanisms(as_json: bool) -> None:
    """List the ways for a cut to fail that riskcut knows."""
    from riskcut.cli.explain import listing

    click.echo(listing(as_json=as_json))


@commands.command()
@click.argument("name")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
def explain(name: str, as_json: bool) -> None:
    """Explain the mechanism NAME: formula, symbols, range of use, sources, what it leaves out.

    NAME may also be an address in a study, such as works.slab: meaning, unit, and how it may be written.
    """
    from riskcut.cli.explain import explain as explained

    click.echo(explained(name, as_json=as_json))


def main() -> None:
    """Run the command line, and turn every known way of failing into one message and its exit code."""
    try:
        commands.main(standalone_mode=False)
    except click.exceptions.Exit as exit_:
        sys.exit(exit_.exit_code)
    except (click.Abort, KeyboardInterrupt):
        click.echo("riskcut: interrupted; nothing was written", err=True)
        sys.exit(130)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except Exception as error:
        code = getattr(error, "exit_code", None)
        if code is None:
            raise
        click.echo(str(error), err=True)
        sys.exit(code)
