"""`companion doctor`: whether a lesson can be held, and what to do if not."""

import sys

import click

from companion.background.doctor import can_be_held, examine
from companion.pages.house import Verdict
from companion.paths import Home

SIGNS = {Verdict.GOOD: "good", Verdict.WARNING: "LOOK", Verdict.BAD: "STOP"}


@click.command()
@click.pass_obj
def doctor(home: Home) -> None:
    """Check everything that can stop a lesson. Leaves with status 1 if one can't be held."""
    findings = []
    for finding in examine(home):
        findings.append(finding)
        remedy = f". {finding.remedy}" if finding.remedy else ""
        click.echo(f"{SIGNS[finding.verdict]}  {finding.about + ':':<14} {finding.words.rstrip('.')}{remedy}")
    if can_be_held(findings):
        click.echo("A lesson can be held.")
        return
    click.echo("A lesson can't be held yet. See what stands at STOP.")
    sys.exit(1)
