"""How a child is written down: initials or a seat number, never a name."""

from companion.language import later

MOST_LETTERS = 12

CODE_WORDS = later("initials (J. K.) or a seat number (seat 12), never a name")


def is_child_code(text: str) -> bool:
    """Whether `text` may stand for a child.

    A seat holds a number and at most one word; initials are two letters, or up to four capitals, with dots
    and spaces at will.
    """
    if len(text) > MOST_LETTERS or not text[:1].isalnum():
        return False
    if any(letter.isdigit() for letter in text):
        return sum(word.isalpha() for word in text.split()) <= 1
    letters = "".join(letter for letter in text if letter not in ". -")
    return letters.isalpha() and (len(letters) <= 2 or (len(letters) <= 4 and letters.isupper()))
