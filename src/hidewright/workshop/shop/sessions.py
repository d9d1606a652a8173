"""Sessions of which the database keeps only a hash of the key: who reads the database or a copy of it cannot take a device's place."""

import hashlib
from typing import Any

from django.contrib.sessions.backends.db import SessionStore as PlainStore
from django.contrib.sessions.base_session import AbstractBaseSession
from django.utils import timezone


def hashed(key: str) -> str:
    """What stands in the database for a session's key (40 hex digits of SHA-256)."""
    return hashlib.sha256(key.encode()).hexdigest()[:40]


class SessionStore(PlainStore):
    """The framework's sessions in the database, under hashed keys."""

    def _get_session_from_db(self) -> AbstractBaseSession | None:
        found = self.model.objects.filter(
            session_key=hashed(str(self.session_key)), expire_date__gt=timezone.now()
        ).first()
        if found is None:
            self._session_key = None
        return found

    def exists(self, session_key: str) -> bool:
        """Whether a session of that key is kept."""
        return super().exists(hashed(session_key))

    def create_model_instance(self, data: dict[str, Any]) -> AbstractBaseSession:
        """The row of this session."""
        row = super().create_model_instance(data)
        row.session_key = hashed(row.session_key)
        return row

    def delete(self, session_key: str | None = None) -> None:
        """Forget a session: that of the key, or this one."""
        key = session_key if session_key is not None else self.session_key
        if key is not None:
            super().delete(hashed(key))
