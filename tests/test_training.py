"""The training room and the ears see and say the same. Needs the extra `training`; torch is never there at run time."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from listener.ear.ahead import SILENT_FRAMES, AheadNetwork
from listener.ear.features import HOP, LONG, RATE, Features, Sight
from listener.ear.network import SILENT_HOPS, Network

torch = pytest.importorskip("torch", reason="the extra `training` is not installed")

from listener.ear.training.model import Model  # noqa: E402
from listener.ear.training.sensing import Sensing  # noqa: E402
from listener.ear.training.tasks import LIVE, REVIEW, Task  # noqa: E402

CLOSE = 1e-4


@pytest.fixture(scope="module")
def sound() -> npt.NDArray[np.float32]:
    """Bursts of noise that die away, from loud to silent, four seconds and a bit of another frame."""
    at = np.arange(4 * RATE + 77)
    noise = np.random.default_rng(1).standard_normal(len(at)) * np.exp(-(at % 9000) / 1500)
    return (0.2 * noise).astype(np.float32)


def tapes(sound: npt.NDArray[np.float32], hop: int) -> npt.NDArray[np.float32]:
    padded = np.concatenate([np.zeros(LONG - hop, np.float32), sound])
    return np.lib.stride_tricks.sliding_window_view(padded, LONG)[::hop]


def loud_model(task: Task) -> Model:
    """Untrained, with weights so large that its heads say all between 0 and 1."""
    torch.manual_seed(4)
    model = Model(task).eval()
    for parameter in model.parameters():
        if parameter.dim() > 1:
            torch.nn.init.normal_(parameter, std=1.5 / parameter.shape[1] ** 0.5)
    return model


def learned(model: Model, task: Task, sound: npt.NDArray[np.float32]) -> tuple[np.ndarray, np.ndarray]:
    """What the heads say in the training room, pitches and scene."""
    with torch.no_grad():
        flat, bands = Sensing(hop=task.hop)(torch.from_numpy(sound)[None])
        pitches, scene = model(flat, bands)
    return torch.sigmoid(pitches)[0].numpy(), torch.sigmoid(scene)[0].numpy()


@pytest.mark.parametrize("a4_hz", [440.0, 430.0])
@pytest.mark.parametrize("task", [LIVE, REVIEW], ids=lambda task: task.name)
def test_features_are_the_same_in_training_and_at_run_time(
    sound: npt.NDArray[np.float32], task: Task, a4_hz: float
) -> None:
    whole = sound[: len(sound) // task.hop * task.hop]
    flat, bands = Sensing(a4_hz, task.hop)(torch.from_numpy(whole)[None])
    ours = Features(a4_hz).see(np.ascontiguousarray(tapes(whole, task.hop)))
    assert np.abs(ours.flat - flat[0].numpy()).max() < CLOSE
    assert np.abs(ours.bands - bands[0].numpy()).max() < CLOSE


def test_the_live_network_says_the_same_frame_by_frame(sound: npt.NDArray[np.float32]) -> None:
    whole = sound[: 200 * HOP]
    model = loud_model(LIVE)
    pitches, scene = learned(model, LIVE, np.concatenate([np.zeros(SILENT_HOPS * HOP, np.float32), whole]))
    network = Network({name: value.numpy() for name, value in model.state_dict().items()})
    features, memory = Features(), network.silence()
    for frame, tape in enumerate(tapes(whole, HOP)):
        seen = features.see(np.ascontiguousarray(tape)[None])
        heard = network.step(Sight(seen.flat[0], seen.bands[0]), memory)
        assert np.abs(heard.pitches - pitches[SILENT_HOPS + frame]).max() < CLOSE
        assert np.abs(heard.scene - scene[SILENT_HOPS + frame]).max() < CLOSE


def test_the_review_network_says_the_same_of_a_whole_recording(sound: npt.NDArray[np.float32]) -> None:
    model = loud_model(REVIEW)
    frames = -(-len(sound) // REVIEW.hop) + 2  # the ear lets the recording ring out by as much as its heads lie behind
    silence = np.zeros(SILENT_FRAMES * REVIEW.hop, np.float32)
    padded = np.concatenate([silence, sound, np.zeros(frames * REVIEW.hop - len(sound), np.float32)])
    pitches, scene = (said[SILENT_FRAMES:] for said in learned(model, REVIEW, padded))
    heard = AheadNetwork({name: value.numpy() for name, value in model.state_dict().items()}).hear(sound)
    assert heard.pitches.shape == pitches.shape
    assert np.abs(heard.pitches - pitches).max() < CLOSE
    assert np.abs(heard.scene - scene).max() < CLOSE
