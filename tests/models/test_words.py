"""Which words a model knows, without loading it."""

from pathlib import Path

import pytest

from companion.models.words import knows_word
from tests.listening.korean import korean_model
from tests.models.archives import FILES, write_model


@pytest.mark.parametrize("word", ["정원", "정", "우리", "velvet", "풀꽃놀이터", "건너뛰기"])
def test_graph_of_a_real_model_is_read_as_the_recogniser_reads_it(word: str) -> None:
    """The files give the same answer as the model in memory."""
    assert knows_word(korean_model().path, word) == korean_model().knows(word)


def test_word_list_is_taken_where_there_is_one(tmp_path: Path) -> None:
    """Only a whole word of the list counts."""
    model = write_model(tmp_path, FILES | {"graph/words.txt": b"<eps> 0\nvelvets 1\ncompass 2\n"})
    assert [knows_word(model, word) for word in ("compass", "velvet", "pass")] == [True, False, False]
