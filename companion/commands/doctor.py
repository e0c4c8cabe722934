"""`companion doctor`: whether a lesson can be held, and what to do if not."""

import sys

import click

from companion.background.doctor import can_be_held, examine
from companion.commands.terminal import wide
from companion.language import _, later
from companion.pages.house import Verdict
from companion.paths import Home

SIGNS = {Verdict.GOOD: later("good"), Verdict.WARNING: later("LOOK"), Verdict.BAD: later("STOP")}


@click.command()
@click.pass_obj
def doctor(home: Home) -> None:
    """Check everything that can stop a lesson. Leaves with status 1 if one can't be held."""
    findings = []
    for finding in examine(home):
        findings.append(finding)
        remedy = f". {finding.remedy}" if finding.remedy else ""
        sign, about = wide(_(SIGNS[finding.verdict]), 4), wide(f"{_(finding.about)}:", 14)
        click.echo(f"{sign}  {about} {finding.words.rstrip('.')}{remedy}")
    if can_be_held(findings):
        click.echo(_("A lesson can be held."))
        return
    click.echo(_("A lesson can't be held yet. See what stands at STOP."))
    sys.exit(1)
