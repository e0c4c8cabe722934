"""Which step does what with the settings file."""

from companion.pages.setup.cue import CUE
from companion.pages.setup.keys import KEYS
from companion.pages.setup.more import MORE
from companion.pages.setup.page import Part
from companion.pages.setup.phrases import PHRASES
from companion.pages.setup.plans import PLANS
from companion.pages.setup.week import WEEK

PARTS = {
    "rules": Part(),
    "school": Part(holds=("school",)),
    "cue": CUE,
    "phrases": PHRASES,
    "keys": KEYS,
    "plans": PLANS,
    "week": WEEK,
    "levels": Part(holds=("levels",)),
    "more": MORE,
}
"""By the key of the step."""
