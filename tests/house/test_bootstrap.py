"""uv, fetched by a bare machine: the right wheel, and no other bytes than the locked ones."""

import hashlib
import io
import subprocess
import threading
import zipfile
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer

import pytest

from config import fetch_uv

LOCK = fetch_uv.LOCK.read_text()


@pytest.mark.parametrize(
    ("machine", "ends"),
    [
        (("Linux", "x86_64", "glibc"), "x86_64.manylinux2014_x86_64.whl"),
        (("Linux", "x86_64", ""), "musllinux_1_1_x86_64.whl"),
        (("Darwin", "arm64", ""), "macosx_11_0_arm64.whl"),
    ],
)
def test_the_wheel_is_the_one_for_the_machine(machine, ends):
    url, digest = fetch_uv.locked_wheel(LOCK, *machine)
    assert url.endswith(ends)
    assert len(bytes.fromhex(digest)) == 32


def test_a_machine_without_a_wheel_is_told_so():
    with pytest.raises(fetch_uv.NoUvError, match="Linux on mips"):
        fetch_uv.locked_wheel(LOCK, "Linux", "mips", "glibc")


@pytest.fixture
def index(tmp_path, monkeypatch):
    """A package index of one's own, serving one small wheel; yields the wheel's bytes and the name in the lock."""
    name = "uv-1.0-py3-none-any.whl"
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("uv-1.0.data/scripts/uv", "#!/bin/sh\necho uv 1.0\n")
    (tmp_path / "uv").mkdir()
    (tmp_path / "uv" / name).write_bytes(packed.getvalue())
    (tmp_path / "uv" / "index.html").write_text(f'<a href="{name}#sha256=0">{name}</a>')
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(SimpleHTTPRequestHandler, directory=tmp_path))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    monkeypatch.setenv("UV_DEFAULT_INDEX", f"http://127.0.0.1:{server.server_port}")
    yield packed.getvalue(), f"https://example.org/{name}"
    server.shutdown()
    server.server_close()


def test_uv_is_fetched_from_the_index_of_this_machine_and_runs(index, tmp_path):
    wheel, url = index
    fetch_uv.unpack(fetch_uv.download(url, hashlib.sha256(wheel).hexdigest()), tmp_path / "bin")
    said = subprocess.run([tmp_path / "bin" / "uv"], capture_output=True, text=True, check=True)
    assert said.stdout == "uv 1.0\n"


def test_other_bytes_than_the_locked_ones_are_refused(index):
    with pytest.raises(fetch_uv.NoUvError, match="SHA-256 differs"):
        fetch_uv.download(index[1], "0" * 64)
