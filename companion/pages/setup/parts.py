"""Which step does what with the settings file."""

from companion.pages.setup.cue import CUE
from companion.pages.setup.keys import KEYS
from companion.pages.setup.microphone import MICROPHONE
from companion.pages.setup.more import MORE
from companion.pages.setup.page import StepPart
from companion.pages.setup.phrases import PHRASES
from companion.pages.setup.plans import PLANS
from companion.pages.setup.ready import READY
from companion.pages.setup.rehearsal import REHEARSAL
from companion.pages.setup.rules import RULES
from companion.pages.setup.school import SCHOOL
from companion.pages.setup.trying import TRY
from companion.pages.setup.week import WEEK

PARTS = {
    "rules": RULES,
    "school": SCHOOL,
    "microphone": MICROPHONE,
    "cue": CUE,
    "phrases": PHRASES,
    "rehearsal": REHEARSAL,
    "keys": KEYS,
    "plans": PLANS,
    "week": WEEK,
    "levels": StepPart(holds=("levels",)),
    "try": TRY,
    "ready": READY,
    "more": MORE,
}
"""By the key of the step."""
