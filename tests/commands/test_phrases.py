"""`companion phrases`."""

import json

from tests.commands.conftest import Run


def test_phrases_given_are_checked_without_settings(run: Run) -> None:
    """With --cue and --phrase the check needs no settings file."""
    done = run(
        "phrases", "check", "--cue", "velvet compass", "--phrase", "praise", "--phrase", "cleanup", "--json"
    )
    cue, praise, cleanup = map(json.loads, done.stdout.splitlines())
    assert (cue["text"], cue["verdict"]) == ("velvet compass", "good")
    assert praise["said"] == "P R EY Z"
    assert cleanup["nearest"] == "praise"


def test_the_starter_settings_pass_their_own_check(run: Run) -> None:
    """What `companion init --yes` writes has no poor phrase."""
    run("init", "--yes")
    assert "None of them has to be changed" in run("phrases", "check").stdout


def test_without_settings_it_says_what_to_do(run: Run) -> None:
    """Nothing given and no settings: a sentence with the remedy."""
    assert "companion init" in run("phrases", "check", code=2).stderr


def test_a_word_that_nobody_can_say_is_named(run: Run) -> None:
    """The check names a word without a pronunciation."""
    assert "日本" in run("phrases", "check", "--phrase", "日本", code=2).stderr


def test_words_of_another_language_are_checked_against_its_model(run: Run) -> None:
    """Korean starter phrases are all known to the Korean model; Spanish ones can't be checked without one."""
    run("init", "--yes", "--language", "ko")
    assert "25개 말의 모든 낱말을 압니다" in run("phrases", "check").stdout
    run("init", "--yes", "--language", "es", "--force")
    assert "no hay modelo de voz para el idioma “es”" in run("phrases", "check", code=2).stderr
