"""Pack the two measured campaigns into the file that the examples read.

    python tools/pack_measured.py FOLDER

FOLDER holds `campaign/` and `quiet/`. The same files give the same archive: names sorted, times fixed, one level of deflate.
"""

from __future__ import annotations

import sys
import zipfile
from pathlib import Path

CAMPAIGNS = ("campaign", "quiet")
TARGET = Path(__file__).resolve().parent.parent / "src" / "evenhand" / "examples" / "data" / "measured.zip"


def pack(source: Path, target: Path) -> int:
    """Write the archive and return the number of files in it."""
    files = sorted(
        (p for c in CAMPAIGNS for p in (source / c).rglob("*") if p.is_file()), key=lambda p: p.relative_to(source).as_posix()
    )
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for path in files:
            entry = zipfile.ZipInfo(path.relative_to(source).as_posix(), date_time=(2026, 11, 24, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            entry.create_system = 3
            archive.writestr(entry, path.read_bytes(), compresslevel=9)
    return len(files)


if __name__ == "__main__":
    print(f"{pack(Path(sys.argv[1]), TARGET)} files, {TARGET.stat().st_size} bytes")
