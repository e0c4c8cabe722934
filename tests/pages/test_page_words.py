"""What the pages say in the place of commands."""

from companion.pages.page_words import on_pages


def test_a_command_becomes_the_page_that_does_the_same() -> None:
    """Options go with it, two in one sentence are both replaced, and what is odd is escaped."""
    assert on_pages("Bind some with: companion keys") == (
        'Bind some with: <a href="/setup/keys">Set-up: Clicker and keys</a>'
    )
    two = on_pages("Put one back: companion log restore, or <say> `companion rehearse --forget`.")
    assert two == (
        'Put one back: <a href="/running">Set-up: The companion</a>, or &lt;say&gt; '
        '<a href="/setup/rehearsal">Set-up: Rehearsal</a>.'
    )


def test_other_words_stay() -> None:
    """What is no command, and a command that no page stands for, is left as it is."""
    for words in ("Start the companion inside the desktop session.", "companion demo"):
        assert on_pages(words) == words
