"""The speech models of the companion's own page: fetched, brought in a file, taken away."""

import shutil
import tempfile
from pathlib import Path, PureWindowsPath

from starlette.datastructures import UploadFile

from companion.errors import CompanionError
from companion.language import _
from companion.models.install import add_model, plain_disk_errors, remove_model
from companion.models.manifest import find_entry
from companion.models.places import find_model
from companion.pages.desk import Desk
from companion.pages.exercises.fetched_model import STEP, FetchedModel


def fetch(desk: Desk, name: str) -> str:
    """Begin to fetch a model of the list. Raises CompanionError while one is being fetched."""
    entry = find_entry(name)
    if entry is None:
        raise CompanionError(_("There is no such speech model."), remedy=_("Load the page again."))

    def begin() -> FetchedModel:
        earlier = fetched(desk)
        if earlier and earlier.goes_on:
            raise CompanionError(
                _("{model} is being fetched already.", model=earlier.name),
                safe=_("It goes on."),
                remedy=_("Wait until it is here."),
            )
        return FetchedModel(entry, desk.home.models)

    desk.exercises.begin(begin)
    return ""


def fetched(desk: Desk) -> FetchedModel | None:
    """Return the model that is being fetched, or was last."""
    one = desk.exercises.of(STEP)
    return one if isinstance(one, FetchedModel) else None


def bring(desk: Desk, file: UploadFile) -> str:
    """Install a model from the zip file that a browser has sent.

    Raises CompanionError if it is none, or another one than its name says.
    """
    # Some browsers send the whole path.
    name = PureWindowsPath(file.filename or "").name
    if not name:
        raise CompanionError(_("No file was chosen."), remedy=_("Choose the file of a speech model (.zip)."))
    with (
        plain_disk_errors(desk.home.models),
        tempfile.TemporaryDirectory(prefix="speech-model-") as folder,
    ):
        archive = Path(folder) / name
        with archive.open("wb") as copy:
            shutil.copyfileobj(file.file, copy)
        done = add_model(archive, desk.home.models, find_entry(name.removesuffix(".zip")))
    return _("{name} is installed. Its checksum: {trust}.", name=done.path.name, trust=done.trust)


def remove(desk: Desk, name: str) -> str:
    """Remove a model that was fetched or brought."""
    found = find_model(name, desk.home.models)
    if found is None:
        raise CompanionError(_("This speech model is not here."), remedy=_("Load the page again."))
    remove_model(found, desk.home.models)
    if (last := fetched(desk)) and not last.goes_on:
        desk.exercises.end(STEP)
    return _("{model} is gone.", model=name)
