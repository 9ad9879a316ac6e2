"""Sheets on paper: every one of the demonstrations prints on one side of A4, with a witness code or without."""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path

import pytest
from sealing import chain_of

from conserve.cli import main
from conserve.files import Folder

HOUSE = Path(__file__).parent.parent.parent
BROWSER = shutil.which("chromium") or shutil.which("google-chrome")
A4 = (595, 842)  # in points


@pytest.mark.skipif(BROWSER is None, reason="no browser to print with")
@pytest.mark.parametrize("folder", sorted((HOUSE / "casebook").iterdir()), ids=lambda folder: folder.name)
@pytest.mark.parametrize("sealed", [False, True], ids=["not sealed", "sealed"])
def test_every_sheet_of_a_demonstration_prints_on_one_side_of_a4(tmp_path, folder, sealed):
    pikepdf = pytest.importorskip("pikepdf")
    page, printed = tmp_path / "sheets.html", tmp_path / "sheets.pdf"
    book = Path(shutil.copytree(folder, tmp_path / folder.name))
    (book / "chain.jsonl").unlink(missing_ok=True)
    if sealed:
        chain_of(Folder(book), 12)
    assert main(["sheet", str(book), "--out", str(page)]) == 0
    assert ("Witness code" in page.read_text(encoding="utf-8")) is sealed
    told = ("--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer", f"--print-to-pdf={printed}")
    subprocess.run([str(BROWSER), *told, page.as_uri()], check=True, capture_output=True, timeout=300)
    with pikepdf.open(io.BytesIO(printed.read_bytes())) as pdf:
        boxes = [tuple(round(float(end)) for end in one.mediabox[2:]) for one in pdf.pages]
    assert len(boxes) == len(list((folder / "proposals").glob("*.yaml")))
    assert all(abs(wide - A4[0]) <= 1 and abs(high - A4[1]) <= 1 for wide, high in boxes)
