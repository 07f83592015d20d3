"""The check that each package of the locks has a wheel wherever a shop may run. What the index says is made up here."""

import hashlib
import importlib.util
from pathlib import Path

import pytest
from packaging.pylock import Pylock

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def wheels():
    spec = importlib.util.spec_from_file_location("wheels", ROOT / ".ci/wheels.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def found(*wheels, marker=None):
    """What the index would say of one package with these wheels, the digest of each that of its name."""
    package = {"name": "thing", "version": "1.0", "wheels": []}
    for name in wheels:
        digest = hashlib.sha256(name.encode()).hexdigest()
        package["wheels"].append({"name": name, "url": f"https://example/{name}", "hashes": {"sha256": digest}})
    if marker:
        package["marker"] = marker
    return Pylock.from_dict({"lock-version": "1.0", "created-by": "test", "packages": [package]})


def digests(*wheels):
    return "".join(f"--hash=sha256:{hashlib.sha256(name.encode()).hexdigest()}\n" for name in wheels)


def test_a_wheel_for_everything_is_enough(wheels):
    name = "thing-1.0-py3-none-any.whl"
    assert wheels.missing(found(name), digests(name)) == []


def test_wheels_of_each_machine_are_enough_and_one_less_is_named(wheels):
    names = [
        f"thing-1.0-cp311-abi3-{platform}.whl"
        for platform in (
            "manylinux_2_28_x86_64",
            "manylinux_2_17_aarch64.manylinux2014_aarch64",
            "win_amd64",
            "macosx_12_0_arm64",
            "macosx_10_9_x86_64",
        )
    ]
    assert wheels.missing(found(*names), digests(*names)) == []
    said = [
        f"thing 1.0 has no wheel for Python 3.{minor} on Windows x86-64 whose digest is in the lock."
        for minor in (11, 12, 13, 14)
    ]
    without = [name for name in names if "win" not in name]
    assert wheels.missing(found(*without), digests(*names)) == said
    assert wheels.missing(found(*names), digests(*without)) == said
    assert wheels.missing(found(*without, marker="sys_platform != 'win32'"), digests(*names)) == []


@pytest.mark.parametrize(
    ("name", "gaps"),
    [
        ("thing-1.0-cp314-cp314-win_amd64.whl", 19),
        ("thing-1.0-cp313-abi3-win_amd64.whl", 18),
        ("thing-1.0-cp311-cp311-macosx_12_0_universal2.whl", 18),
        ("thing-1.0-py3-none-manylinux_2_28_x86_64.whl", 16),
        ("thing-1.0-py3-none-manylinux_2_29_x86_64.whl", 20),
        ("thing-1.0-py3-none-macosx_13_0_arm64.whl", 20),
        ("thing-1.0-py3-none-musllinux_1_2_x86_64.whl", 20),
    ],
)
def test_a_wheel_counts_for_the_pythons_and_machines_that_take_it(wheels, name, gaps):
    assert len(wheels.missing(found(name), digests(name))) == gaps
