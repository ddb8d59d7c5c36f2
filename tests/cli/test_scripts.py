"""The scripts in deploy/: what they find broken they make anew."""

import shutil
import subprocess
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[2]

# As it was left by an older system: a link to a Python that is gone, or one that is too old.
_OLD = '#!/bin/sh\ncase "$*" in *version_info*) exit 1;; esac\nexit 0\n'


@pytest.mark.parametrize("left", ["a link that leads nowhere", "a Python that is too old", "no pip"])
def test_a_wrong_python_under_venv_is_made_anew_though_all_seems_installed(tmp_path: Path, left: str) -> None:
    shutil.copytree(TOP / "deploy", tmp_path / "deploy", ignore=shutil.ignore_patterns("pictures"))
    (tmp_path / "deploy" / "requirements.txt").write_text("")
    (tmp_path / "pyproject.toml").write_text("")
    bin_folder = tmp_path / ".venv" / "bin"
    bin_folder.mkdir(parents=True)
    for name in ("potmark", "python"):
        (bin_folder / name).write_text(_OLD)
        (bin_folder / name).chmod(0o755)
    if left != "a Python that is too old":
        (bin_folder / "python").unlink()
        target = "/usr/bin/false" if left == "no pip" else tmp_path / "gone" / "python3.10"
        (bin_folder / "python").symlink_to(target)
    stamp = 'printf "%s" "$(cat deploy/requirements*.txt pyproject.toml | sha256sum | cut -d" " -f1) $PWD"'
    said = subprocess.run(
        ["bash", "-c", f". deploy/common.sh; {stamp} > .venv/installed-requirements; "
         "PIP_NO_INDEX=1 install_pinned deploy/requirements.txt"],
        cwd=tmp_path, capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert "Making .venv" in said.stderr
    works = subprocess.run([bin_folder / "python", "-c", "import pip, sys; print(sys.version_info >= (3, 11))"],
                           capture_output=True, text=True, timeout=60)  # fmt: skip
    assert works.stdout == "True\n", said.stderr
