"""A log that is uploaded: its files put into a folder of their own, whatever came. No Django models here."""

import lzma
import shutil
import zipfile
import zlib
from collections.abc import Iterable
from pathlib import Path, PurePosixPath
from typing import BinaryIO

from django.core.files.uploadedfile import UploadedFile

from inventory.text.refusal import Refused
from shopledger.logbook.folder import ANSWERS, BY_HAND, FILES, LEFT, usual_columns

MOST_BYTES = 150 * 1024 * 1024  # unpacked: a log of a million events is less
CHUNK = 1 << 20
MOST_DIRECTORY = 64 * 1024  # bytes of a ZIP's list of its files: a log has some fifteen
# What every packer writes. Of these alone as much is unpacked as is asked for; other methods give all at once.
METHODS = {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}
# What reading a damaged, encrypted or strange ZIP ends with.
UNREADABLE = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    OSError,
    RuntimeError,
    NotImplementedError,
    EOFError,
    ValueError,
    UnicodeError,
)


def unpack(uploads: Iterable[UploadedFile], folder: Path) -> list[str]:
    """Write the CSV files of the uploads, or of the one ZIP among them, into `folder`, which is made. Returns their
    names. Raises Refused, and leaves no folder, for what is no log, too large, or said twice."""
    folder.mkdir(parents=True)
    try:
        names: list[str] = []
        left = MOST_BYTES
        for upload in uploads:
            upload.file.seek(0)
            if upload.file.read(4) == b"PK\x03\x04":
                upload.file.seek(0)
                left = _from_zip(upload, folder, names, left)
            else:
                upload.file.seek(0)
                name = PurePosixPath((upload.name or "").replace("\\", "/")).name
                left = _write(iter(lambda source=upload.file: source.read(CHUNK), b""), name, folder, names, left)
        if "shop.csv" not in names:
            raise Refused("shop.csv is missing; it names the shop and the readability of its scale.", "files")
        return names
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise


def _from_zip(upload: UploadedFile, folder: Path, names: list[str], left: int) -> int:
    try:
        with _opened(upload.file) as archive:
            for member in archive.infolist():
                name = PurePosixPath(member.filename.replace("\\", "/")).name
                if member.is_dir() or name.startswith(".") or "__MACOSX" in member.filename:
                    continue
                if member.compress_type not in METHODS:
                    raise Refused(f"{name} is packed in an unusual way; pack it again, by the method Deflate.", "files")
                with archive.open(member) as source:
                    left = _write(iter(lambda source=source: source.read(CHUNK), b""), name, folder, names, left)
        return left
    except UNREADABLE as error:
        raise Refused(f"{upload.name} is no ZIP that can be read ({error}); pack it again.", "files") from None


def _opened(file: BinaryIO) -> zipfile.ZipFile:
    """The ZIP, its list of files read: by itself `zipfile` believes whatever length the file says for it, and keeps
    half a kilobyte of memory for each of its entries."""
    listed = _InOnePiece(file)
    archive = zipfile.ZipFile(listed)
    listed.most = None
    return archive


class _InOnePiece:
    """A file of which no more than `most` bytes are read at once, or as many as are asked for."""

    def __init__(self, file: BinaryIO):
        self.file, self.most = file, MOST_DIRECTORY

    def read(self, size: int = -1) -> bytes:
        if self.most is not None and not 0 <= size <= self.most:
            size = self.most + 1
            if len(found := self.file.read(size)) == size:
                raise zipfile.BadZipFile("its list of files is too long")
            return found
        return self.file.read(size)

    def __getattr__(self, name: str) -> object:
        return getattr(self.file, name)


def _write(chunks: Iterable[bytes], name: str, folder: Path, names: list[str], left: int) -> int:
    if name not in FILES and name not in {ANSWERS, LEFT}:
        raise Refused(f"{name[:80]!r} is no file of a log; a log holds {', '.join(FILES)}.", "files")
    if name in names:
        raise Refused(f"{name} came twice; send it once.", "files")
    names.append(name)
    with (folder / name).open("wb") as out:
        for chunk in chunks:
            left -= len(chunk)
            if left < 0:
                raise Refused(
                    f"The files are more than {MOST_BYTES // 1024 // 1024} MB unpacked; load a log of that size with "
                    "the command line.",
                    "files",
                )
            out.write(chunk)
    return left


EXAMPLES = {
    "shop.csv": "Example Shop,1 Example Road,America/Denver,generic,1 g,30 kg",
    "people.csv": "tess,Tess Example,technician,Section 609,T-1,Example Board,2024-01-15,",
    "parties.csv": "Example Gas Supply,supplier,2 Example Road,",
    "scales.csv": "S1,30 kg,1 g,2027-01-01",
    "opening.csv": "2026-01-05,CYL-1,refillable,R-134a,virgin,9.2 kg,7.1 kg,12 kg,2029-05-01,Store,X-20417",
    "receipts.csv": "2026-01-08,D-100,Example Gas Supply,CAN-1,can,R-134a,virgin,340 g,110 g,,,Store,12.50,tess,",
    "moves.csv": "2026-02-02,CYL-1,Van,tess",
    "decants.csv": "2026-02-03,CYL-1,CYL-2,S1,16.3 kg,15.3 kg,,tess",
    "jobs.csv": "J-1,2026-01-12T09:00,tess,Ada Example,EX 1,,R-134a,480 g,520 g",
    "job_lines.csv": "J-1,charge,CYL-1,S1,16.3 kg,15.8 kg,,",
    "regrades.csv": "2026-02-05,REC-1,recycled,tess,machine and standard",
    "counts.csv": "2026-02-28,CYL-1,S1,15.8 kg,tess,",
    "shipments.csv": "2026-03-01,S-1,Example Reclaim,reclaim,REC-1,",
    "losses.csv": "2026-03-01,CAN-2,120 g,burst hose,tess,by the length of the hose",
    "retirements.csv": "2026-03-02,CAN-1,lost,tess",
}


def templates() -> dict[str, str]:
    """Every file that a shop writes by hand, with its header and one row as an example."""
    return {name: ",".join(usual_columns(name)) + "\r\n" + EXAMPLES[name] + "\r\n" for name in BY_HAND}
