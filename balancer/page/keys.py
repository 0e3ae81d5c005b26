"""Who may come in: an address that works once, a cookie from then on, a token in each form."""

import hashlib
import hmac
import os
import secrets
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

_BYTES = 32


class Keys:
    """What cookies and form tokens are sealed with.

    The key outlives the server, so that phones are still known when it was killed and started.

    Attributes:
        secret: Of the address that lets the next one in, once.
    """

    def __init__(self, key: bytes, folder: str, announce: Callable[[str], None]) -> None:
        self._key = hashlib.sha256(key + os.path.realpath(folder).encode(errors="replace")).digest()
        self._announce = announce
        self.secret = secrets.token_urlsafe(16)

    def announce(self) -> None:
        """Say which address lets the next one in."""
        self._announce(self.secret)

    def is_secret(self, said: str) -> bool:
        """Say whether somebody knows the address that lets one in."""
        return hmac.compare_digest(said.encode(), self.secret.encode())

    def spend(self, said: str) -> str | None:
        """Let somebody in who knows it, and announce the address for the next; None: they don't."""
        if not self.is_secret(said):
            return None
        self.secret = secrets.token_urlsafe(16)
        self.announce()
        return self.cookie()

    def cookie(self) -> str:
        """Make a cookie that `knows` will know."""
        name = secrets.token_urlsafe(12)
        return f"{name}.{self._sealed('visitor', name)}"

    def knows(self, cookie: str) -> bool:
        """Say whether a cookie is one of ours."""
        name, _, seal = cookie.partition(".")
        return hmac.compare_digest(seal.encode(), self._sealed("visitor", name).encode())

    def token(self, cookie: str) -> str:
        """Give what each form of this visitor carries."""
        return self._sealed("form", cookie)

    def _sealed(self, purpose: str, text: str) -> str:
        said = f"{purpose}:{text}".encode(errors="replace")
        return hmac.new(self._key, said, hashlib.sha256).hexdigest()


def kept_key() -> bytes:
    """Read the key of this user, or make it: for as long as the server where it can't be kept."""
    base = os.environ.get("XDG_STATE_HOME") or os.path.expanduser("~/.local/state")
    path = Path(base) / "balancer" / "page.key"
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        with suppress(FileExistsError):
            made = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(made, "wb") as file:
                file.write(secrets.token_bytes(_BYTES))
        key = path.read_bytes()
        if len(key) == _BYTES:
            return key
    return secrets.token_bytes(_BYTES)
