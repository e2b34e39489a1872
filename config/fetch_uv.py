"""Unpacks uv where it is missing, with nothing but the standard library: a bare Debian has no pip either.

`./run` calls it as a script: `python3 -I config/fetch_uv.py FOLDER`. The wheel's address and its SHA-256 come from
uv.lock, so what runs here is exactly what the project was checked with.
"""

import hashlib
import io
import os
import platform
import re
import sys
import tomllib
import urllib.error
import urllib.parse
import urllib.request
import zipfile
from pathlib import Path

LOCK = Path(__file__).resolve().parent.parent / "uv.lock"


class NoUvError(Exception):
    """uv cannot be had here; the message says why."""


def main(folder: str) -> int:
    try:
        url, digest = locked_wheel(LOCK.read_text(), platform.system(), platform.machine(), platform.libc_ver()[0])
        unpack(download(url, digest), Path(folder))
    except (NoUvError, OSError) as error:
        sys.stderr.write(f"{error}\n")
        return 1
    return 0


def locked_wheel(lock: str, system: str, machine: str, libc: str) -> tuple[str, str]:
    """The address and the SHA-256 of the locked uv wheel for one machine, e.g. ("Linux", "x86_64", "glibc")."""
    family = {"Linux": "manylinux" if libc == "glibc" else "musllinux", "Darwin": "macosx"}.get(system, system)
    packages = tomllib.loads(lock)["package"]
    wheels = next(package["wheels"] for package in packages if package["name"] == "uv")
    for wheel in wheels:
        name = wheel["url"].rsplit("/", 1)[1]
        if re.search(rf"{family}[0-9_]+_{machine}\b", name):
            return str(wheel["url"]), str(wheel["hash"]).removeprefix("sha256:")
    raise NoUvError(f"uv.lock holds no uv for {system} on {machine}: install uv by hand and try again.")


def download(url: str, digest: str) -> bytes:
    """The wheel's bytes, from the package index set in the environment or from where the lock found it."""
    index = next((os.environ[name] for name in ("UV_DEFAULT_INDEX", "PIP_INDEX_URL") if os.environ.get(name)), "")
    wheel = fetch(on_index(index, url) if index else url)
    if hashlib.sha256(wheel).hexdigest() != digest:
        raise NoUvError("The uv that was downloaded is not the one in uv.lock: its SHA-256 differs.")
    return wheel


def on_index(index: str, url: str) -> str:
    """Where a package index of one's own keeps the file that the lock names."""
    page = f"{index.rstrip('/')}/uv/"
    name = urllib.parse.unquote(url.rsplit("/", 1)[1])
    links: list[str] = re.findall(r'href="([^"#]+)', fetch(page).decode())
    for link in links:
        if urllib.parse.unquote(link).rsplit("/", 1)[-1] == name:
            return urllib.parse.urljoin(page, link)
    raise NoUvError(f"The package index of this machine has no {name}.")


def fetch(url: str) -> bytes:
    try:
        with urllib.request.urlopen(url, timeout=60) as answer:
            body: bytes = answer.read()
    except urllib.error.URLError as error:
        raise NoUvError(f"uv could not be downloaded from {urllib.parse.urlsplit(url).netloc}: {error}") from error
    return body


def unpack(wheel: bytes, folder: Path) -> None:
    """Writes the program into the folder in one step, so that a broken download is never taken for uv."""
    with zipfile.ZipFile(io.BytesIO(wheel)) as archive:
        member = next(name for name in archive.namelist() if name.endswith(".data/scripts/uv"))
        program = archive.read(member)
    folder.mkdir(parents=True, exist_ok=True)
    half = folder / "uv.part"
    half.write_bytes(program)
    half.chmod(0o755)
    half.replace(folder / "uv")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
