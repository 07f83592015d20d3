"""Whether each package of both locks can be installed without a compiler wherever a shop may run:

    python .ci/wheels.py UV

UV is the program uv, which asks the index for the files of each release and downloads none of them. A package passes
where for each Python and each machine below there is a wheel whose digest is in the locks. Then the digests of the
locks are written to .ci/wheels.checked; .ci/run asks again where they are not those of the locks. Ends with 1 where a
wheel is missing, with 2 where nothing could be asked.
"""

import hashlib
import os
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterator
from pathlib import Path

from packaging.pylock import Package, Pylock
from packaging.tags import Tag, compatible_tags, cpython_tags, mac_platforms
from packaging.utils import parse_wheel_filename

LOCKS = ("requirements.txt", "tests/requirements.txt")
PYTHONS = ((3, 11), (3, 12), (3, 13), (3, 14))
GLIBC = 28  # 2.28: Debian 10, Ubuntu 18.10, Red Hat 8 and all that is newer
MACOS = (12, 0)


def linux(machine: str) -> list[str]:
    """The platform tags of wheels that such a machine takes, the best first."""
    return [f"manylinux_2_{minor}_{machine}" for minor in range(GLIBC, 4, -1)]


# The name of a machine, what markers are told of it, and the platform tags of the wheels that it takes.
MACHINES = {
    "Linux x86-64": (("posix", "linux", "Linux", "x86_64"), linux("x86_64")),
    "Linux arm64": (("posix", "linux", "Linux", "aarch64"), linux("aarch64")),
    "Windows x86-64": (("nt", "win32", "Windows", "AMD64"), ["win_amd64"]),
    "macOS arm64": (("posix", "darwin", "Darwin", "arm64"), list(mac_platforms(MACOS, "arm64"))),
    "macOS x86-64": (("posix", "darwin", "Darwin", "x86_64"), list(mac_platforms(MACOS, "x86_64"))),
}


def targets() -> Iterator[tuple[str, dict[str, str], frozenset[Tag]]]:
    """Each Python on each machine: what it is called, what markers are told of it, the tags of the wheels it takes."""
    for major, minor in PYTHONS:
        for machine, ((os_name, sys_platform, system, processor), platforms) in MACHINES.items():
            markers = {
                "implementation_name": "cpython",
                "os_name": os_name,
                "platform_machine": processor,
                "platform_python_implementation": "CPython",
                "platform_system": system,
                "python_full_version": f"{major}.{minor}.0",
                "python_version": f"{major}.{minor}",
                "sys_platform": sys_platform,
            }
            version = (major, minor)
            tags = [
                *cpython_tags(version, platforms=platforms),
                *compatible_tags(version, f"cp{major}{minor}", platforms),
            ]
            yield f"Python {major}.{minor} on {machine}", markers, frozenset(tags)


def is_there(package: Package, tags: frozenset[Tag], locks: str) -> bool:
    """Whether one of the package's wheels carries such a tag and has its digest in the text of the locks."""
    return any(
        wheel.hashes["sha256"] in locks and not tags.isdisjoint(parse_wheel_filename(wheel.filename)[3])
        for wheel in package.wheels or ()
    )


def missing(found: Pylock, locks: str) -> list[str]:
    """One sentence for each package and target without a wheel. `found` says which wheels the index has."""
    return [
        f"{package.name} {package.version} has no wheel for {target} whose digest is in the lock."
        for target, markers, tags in targets()
        for package in found.packages
        if (package.marker is None or package.marker.evaluate(markers)) and not is_there(package, tags, locks)
    ]


def ask_index(uv: str) -> Pylock:
    """All wheels that the index has of what the locks pin. Raises CalledProcessError where they cannot be asked for."""
    with tempfile.TemporaryDirectory() as folder:
        answer = Path(folder) / "pylock.toml"
        asked = [uv, "pip", "compile", "--quiet", *LOCKS, "--universal", "--no-deps", "--only-binary", ":all:"]
        asked += ["--python-version", "{}.{}".format(*PYTHONS[0]), "--format", "pylock.toml", "--output-file", answer]
        subprocess.run(asked, check=True)  # noqa: S603 (our own command)
        return Pylock.from_dict(tomllib.loads(answer.read_text(encoding="utf-8")))


def main(uv: str) -> int:
    os.chdir(Path(__file__).resolve().parents[1])
    try:
        found = ask_index(uv)
    except subprocess.CalledProcessError as error:
        # uv ends with 1 where no release is left to choose, and with 2 where the index cannot be reached.
        if error.returncode == 2:
            print("The index was not reached; no wheel was looked for.", file=sys.stderr)
        return error.returncode
    gaps = missing(found, "".join(Path(lock).read_text(encoding="utf-8") for lock in LOCKS))
    if gaps:
        print(*gaps, sep="\n", file=sys.stderr)
        return 1
    checked = "".join(f"{hashlib.sha256(Path(lock).read_bytes()).hexdigest()}  {lock}\n" for lock in LOCKS)
    Path(".ci/wheels.checked").write_text(checked, encoding="utf-8")
    print(f"{len(found.packages)} packages have a wheel for each of {len(list(targets()))} targets.")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
