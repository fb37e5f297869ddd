"""What an output cannot carry is written with what it can: no sign is lost."""

import os
import subprocess
import sys

import pytest

CODE = (
    "from brasscap.printing import prepare, write; import sys; prepare(); "
    "write(sys.stdout, {text!r})"
)


def printed(text, encoding, folder):
    environment = os.environ | {"PYTHONIOENCODING": encoding}
    command = [sys.executable, "-c", CODE.format(text=text)]
    ran = subprocess.run(command, capture_output=True, env=environment, cwd=folder)
    assert ran.returncode == 0, ran.stderr
    return ran.stdout.decode(encoding).rstrip("\n")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("−65.2 mm", "-65.2 mm"),
        ("A – B", "A - B"),
        ("± 3.1 × 2", "+/- 3.1 x 2"),
        ("46°30′12.5″", "46deg30'12.5\""),
        ("1.2 → 8.9, 0.6 … 1.4", "1.2 -> 8.9, 0.6 ... 1.4"),
        ("Žižkov, Gössenheim", "Zizkov, Gossenheim"),
        ("岩", "?"),
    ],
)
def test_ascii_keeps_the_sign_and_the_letters(text, said, tmp_path):
    assert printed(text, "ascii", tmp_path) == said


def test_what_the_output_can_carry_stays(tmp_path):
    """Latin-1 has ± and °, not the minus sign."""
    assert printed("± 46° −1", "latin-1", tmp_path) == "± 46° -1"
    assert printed("± −1 岩", "utf-8", tmp_path) == "± −1 岩"
