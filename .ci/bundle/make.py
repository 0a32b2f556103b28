"""Makes one archive that installs Leadline where there is no network: wheels, sums, a script. `make bundle` calls it.

The same tree and the same wheels give the same archive, byte for byte.
"""

import argparse
import gzip
import hashlib
import io
import os
import platform
import re
import subprocess
import sys
import sysconfig
import tarfile
import tempfile
from collections.abc import Iterable, Iterator
from email.parser import HeaderParser
from pathlib import Path
from zipfile import ZipFile

from packaging.requirements import Requirement
from packaging.tags import Tag, compatible_tags, cpython_tags
from packaging.utils import canonicalize_name, parse_wheel_filename

ROOT = Path(__file__).parents[2]
HERE = Path(__file__).parent
CONSTRAINTS = ROOT / ".ci" / "constraints.txt"
MINORS = (11, 12, 13, 14)
"""Of Python 3: all that the packages have wheels for."""
GLIBC = (28, 27, 26, 24, 17, 12, 5)
"""Minor versions of glibc 2 that a wheel may ask for (PEP 600), the newest first; 2.28 is of 2018."""
OLDER = {17: "manylinux2014", 12: "manylinux2010", 5: "manylinux1"}
NO_INDEX = 75
"""The exit code where no wheel can be had at all: EX_TEMPFAIL of sysexits.h."""
EXTRAS = ("postgresql",)


class CannotBundle(Exception):
    """``str()`` says why; `code` is what the command ends with."""

    def __init__(self, why: str, code: int = 1) -> None:
        super().__init__(why)
        self.code = code


class Target:
    """A minor version of Python on this machine's platform, as wheels name it."""

    def __init__(self, minor: int) -> None:
        self.minor = minor
        self.platforms = _platforms()

    def tags(self) -> frozenset[Tag]:
        version = (3, self.minor)
        of_cpython = cpython_tags(version, platforms=self.platforms)
        return frozenset([*of_cpython, *compatible_tags(version, f"cp3{self.minor}", self.platforms)])

    def options(self) -> list[str]:
        """For ``pip download``; none for an interpreter of another kind of system, which pip knows by itself."""
        if sys.platform != "linux":
            return []
        named = [part for each in self.platforms for part in ("--platform", each)]
        abis = [part for each in (f"cp3{self.minor}", "abi3", "none") for part in ("--abi", each)]
        return [*named, "--python-version", f"3.{self.minor}", "--implementation", "cp", *abis]

    def environment(self, extra: str) -> dict[str, str]:
        """What markers (PEP 508) are asked against."""
        return {"python_version": f"3.{self.minor}", "python_full_version": f"3.{self.minor}.0", "extra": extra}


def _platforms() -> list[str]:
    if sys.platform != "linux":
        return [sysconfig.get_platform().replace("-", "_").replace(".", "_")]
    machine = platform.machine()
    found = [name for each in GLIBC for name in (f"manylinux_2_{each}", OLDER.get(each)) if name]
    return [*(f"{name}_{machine}" for name in found), f"linux_{machine}"]


def wheel_of_ours(folder: Path) -> Path:
    """Leadline's own wheel, made from this tree."""
    folder.mkdir()
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(ROOT)]
    built = subprocess.run(command, capture_output=True, text=True, check=False)
    if built.returncode:
        raise CannotBundle(f"The wheel could not be made.\n{built.stdout}{built.stderr}")
    return next(folder.glob("leadline-*.whl"))


def fetch(what: Iterable[str], into: Path, options: Iterable[str]) -> str:
    """Download wheels. Returns pip's words if it could not."""
    quiet = ["--quiet", "--disable-pip-version-check", "--only-binary=:all:"]
    command = [sys.executable, "-m", "pip", "download", *quiet, "--dest", str(into), *options, *what]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return "" if done.returncode == 0 else done.stderr or done.stdout or "pip said nothing"


def needed_by(wheel: Path, extras: Iterable[str], target: Target) -> Iterator[Requirement]:
    """What the wheel's own data ask for on that Python."""
    with ZipFile(wheel) as inside:
        name = next(each for each in inside.namelist() if re.fullmatch(r"[^/]+\.dist-info/METADATA", each))
        said = HeaderParser().parsestr(inside.read(name).decode()).get_all("Requires-Dist", [])
    for requirement in map(Requirement, said):
        marker = requirement.marker
        if marker is None or any(marker.evaluate(target.environment(extra)) for extra in ("", *extras)):
            yield requirement


def gathered(ours: Path, pool: Path, target: Target, pins: dict[str, str]) -> dict[str, Path]:
    """Every wheel that Leadline needs on that Python, by name; those that `pool` does not have are fetched into it."""
    tags = target.tags()
    while True:
        have = {"leadline": ours} | _fitting(pool, tags, pins)
        closed, missing = _closure(have, target)
        if not missing:
            return {name: have[name] for name in closed} | {"pip": have["pip"]}
        unpinned = sorted(missing - pins.keys())
        if unpinned:
            raise CannotBundle(f".ci/constraints.txt does not say which version of {', '.join(unpinned)}.")
        exact = [f"{name}=={pins[name]}" for name in sorted(missing)]
        if why := fetch(exact, pool, ["--no-deps", *target.options()]):
            raise CannotBundle(f"Python 3.{target.minor} has no wheel for all that is needed.\n{why}")


def _fitting(pool: Path, tags: frozenset[Tag], pins: dict[str, str]) -> dict[str, Path]:
    found = {}
    for path in sorted(pool.glob("*.whl")):
        name, version, _, its_tags = parse_wheel_filename(path.name)
        if its_tags & tags and pins.get(name) == str(version):
            found[str(name)] = path
    return found


def _closure(have: dict[str, Path], target: Target) -> tuple[set[str], set[str]]:
    """Names reached from Leadline with its extras; and those of them of which there is no wheel yet."""
    waiting, seen = [("leadline", frozenset(EXTRAS))], set()
    missing = {"pip"} - have.keys()
    while waiting:
        name, extras = each = waiting.pop()
        if each in seen:
            continue
        seen.add(each)
        if name not in have:
            missing.add(name)
            continue
        for requirement in needed_by(have[name], extras, target):
            waiting.append((canonicalize_name(requirement.name), frozenset(requirement.extras)))
    return {name for name, _ in seen}, missing


def pinned() -> dict[str, str]:
    """Versions by name, as CI tested them."""
    lines = CONSTRAINTS.read_text().split()
    return {str(canonicalize_name(name)): version for name, _, version in (line.partition("==") for line in lines)}


def digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def requirements(wheels: dict[str, Path]) -> str:
    """For ``pip install --require-hashes``: every package, by version and hash."""
    rows = []
    for name, path in sorted(wheels.items()):
        if name != "pip":
            rows.append(f"{name}=={parse_wheel_filename(path.name)[1]} --hash=sha256:{digest(path.read_bytes())}")
    return "\n".join([*rows, ""])


def contents(chosen: dict[int, dict[str, Path]], version: str) -> dict[str, bytes]:
    """Every file of the archive by its path in it, but for the sums."""
    files = {f"wheels/{path.name}": path.read_bytes() for wheels in chosen.values() for path in wheels.values()}
    files |= {f"requirements-3.{minor}.txt": requirements(wheels).encode() for minor, wheels in chosen.items()}
    files |= {f"samples/{path.name}": path.read_bytes() for path in (ROOT / "procedures").iterdir() if path.is_file()}
    files |= {f"deploy/{path.name}": path.read_bytes() for path in (ROOT / "app" / "deploy").iterdir()}
    for name in ("install.sh", "INSTALL.md"):
        files[name] = (HERE / name).read_bytes()
    for name in ("README.md", "CHANGELOG.md", "LICENSE"):
        files[name] = (ROOT / name).read_bytes()
    files["VERSION"] = f"{version}\n".encode()
    files["PLATFORM"] = f"{label()}\n".encode()
    return files


def label() -> str:
    """The platform in the archive's name."""
    return sysconfig.get_platform()


def sums(files: dict[str, bytes]) -> bytes:
    """In the form of sha256sum(1)."""
    return "".join(f"{digest(data)}  {name}\n" for name, data in sorted(files.items())).encode()


def pack(files: dict[str, bytes], folder: str) -> bytes:
    """A .tar.gz that depends on nothing but what is in it: sorted, without times and owners."""
    plain, packed = io.BytesIO(), io.BytesIO()
    with tarfile.open(fileobj=plain, mode="w", format=tarfile.USTAR_FORMAT) as archive:
        for name, data in sorted(files.items()):
            about = tarfile.TarInfo(f"{folder}/{name}")
            about.size, about.mtime = len(data), 0
            about.mode = 0o755 if name.endswith(".sh") else 0o644
            archive.addfile(about, io.BytesIO(data))
    with gzip.GzipFile(fileobj=packed, mode="wb", compresslevel=6, mtime=0) as squeezed:
        squeezed.write(plain.getvalue())
    return packed.getvalue()


def choose(pool: Path, ours: Path, minors: Iterable[int]) -> dict[int, dict[str, Path]]:
    """The wheels of each Python that has them all; the running one must."""
    pins, is_new = pinned(), not any(pool.iterdir())
    if why := fetch([f"pip=={pins['pip']}"], pool, []):
        raise CannotBundle(f"No wheel can be downloaded here, so there is nothing to bundle.\n{why}", NO_INDEX)
    if is_new:
        # In one go, which is quicker than name by name. Whatever comes of it, what is missing is fetched below.
        options = ["--constraint", str(CONSTRAINTS), *Target(sys.version_info.minor).options()]
        fetch([f"{ours}[{','.join(EXTRAS)}]"], pool, options)
    chosen = {}
    for minor in minors:
        try:
            chosen[minor] = gathered(ours, pool, Target(minor), pins)
        except CannotBundle as fault:
            if minor == sys.version_info.minor:
                raise
            print(f"Not for Python 3.{minor}: {fault}", file=sys.stderr)
    return chosen


def make(out: Path, pool: Path, scratch: Path, minors: Iterable[int]) -> Path:
    """Write the archive and its sum beside it. Returns the archive."""
    ours = wheel_of_ours(scratch / "ours")
    chosen = choose(pool, ours, minors)
    version = str(parse_wheel_filename(ours.name)[1])
    name = f"leadline-{version}-{label()}"
    files = contents(chosen, version)
    packed = pack(files | {"SHA256SUMS": sums(files)}, name)
    out.mkdir(parents=True, exist_ok=True)
    archive = out / f"{name}.tar.gz"
    archive.write_bytes(packed)
    archive.with_name(f"{archive.name}.sha256").write_text(f"{digest(packed)}  {archive.name}\n")
    pythons = ", ".join(f"3.{minor}" for minor in chosen)
    print(f"{archive}: {len(packed) / 1e6:.0f} MB, {len(files)} files, for Python {pythons} on {label()}")
    print(f"sha256 {digest(packed)}")
    return archive


def _asked(words: list[str] | None) -> argparse.Namespace:
    running = sys.version_info.minor
    others = MINORS if sys.platform == "linux" else (running,)
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=ROOT / "dist", help="Folder for the archive.")
    parser.add_argument("--wheels", type=Path, help="Folder in which downloaded wheels are kept. Default: none are.")
    parser.add_argument("--minor", type=int, action="append", help="Of Python 3, may be given again. Default: all.")
    asked = parser.parse_args(words)
    asked.minor = sorted({*(asked.minor or others), running})
    return asked


def main(words: list[str] | None = None) -> int:
    """Returns the exit code."""
    asked = _asked(words)
    os.environ.setdefault("SOURCE_DATE_EPOCH", "315532800")  # 1980, where the times of a zip file begin.
    with tempfile.TemporaryDirectory(prefix="leadline-bundle-") as scratch:
        pool = asked.wheels or Path(scratch) / "pool"
        pool.mkdir(parents=True, exist_ok=True)
        try:
            make(asked.out, pool, Path(scratch), asked.minor)
        except CannotBundle as fault:
            print(fault, file=sys.stderr)
            return fault.code
    return 0


if __name__ == "__main__":
    sys.exit(main())
