"""`companion doctor`: whether a lesson can be held, and what to do if not."""

import sys

import click

from companion.background.doctor import can_be_held, examine
from companion.commands.terminal import wide
from companion.language import _, later_word, word
from companion.pages.house import Verdict
from companion.paths import Home

SIGNS = {
    Verdict.GOOD: later_word("finding", "good"),
    Verdict.WARNING: later_word("finding", "LOOK"),
    Verdict.BAD: later_word("finding", "STOP"),
}


@click.command()
@click.pass_obj
def doctor(home: Home) -> None:
    """Check everything that can stop a lesson. Leaves with status 1 if one can't be held."""
    findings = []
    for finding in examine(home):
        findings.append(finding)
        remedy = f". {finding.remedy}" if finding.remedy else ""
        sign, about = wide(word("finding", SIGNS[finding.verdict]), 4), wide(f"{_(finding.about)}:", 14)
        click.echo(f"{sign}  {about} {finding.words.rstrip('.')}{remedy}")
    if can_be_held(findings):
        click.echo(_("A lesson can be held."))
        return
    click.echo(_("A lesson can't be held yet. See what stands at STOP."))
    sys.exit(1)
