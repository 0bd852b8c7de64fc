"""A passkey as a second way into the clinic page, for whoever has come in by a link once.

Standard: Web Authentication (W3C, level 2); what it asks of a server is checked by `webauthn`. The
device must have made sure of its owner. Read next: `bot.store.passkeys`.
"""

from __future__ import annotations

import ipaddress
import json
from datetime import datetime
from hashlib import sha256
from urllib.parse import urlsplit

from webauthn import (
    generate_authentication_options,
    generate_registration_options,
    options_to_json,
    verify_authentication_response,
    verify_registration_response,
)
from webauthn.helpers import base64url_to_bytes
from webauthn.helpers.exceptions import WebAuthnException
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from bot.store import audit, page_keys, passkeys, people
from bot.store.database import Store
from bot.store.people import Person

VERIFIED = UserVerificationRequirement.REQUIRED


class Passkeys:
    """Passkeys for one page. `url`: where it is reached; an address without a name has none."""

    def __init__(self, url: str, clinic: str) -> None:
        parts = urlsplit(url)
        self._host, self._origin, self._clinic = parts.hostname or "", url.rstrip("/"), clinic

    @property
    def offered(self) -> bool:
        """Whether there can be any here: the standard knows no numbers for names."""
        try:
            ipaddress.ip_address(self._host)
        except ValueError:
            return bool(self._host)
        return False

    def ask_to_make(self, store: Store, person: Person, token: str) -> str:
        """What the browser is asked, to make one."""
        known = [PublicKeyCredentialDescriptor(id=one) for one in passkeys.of(store, person.id)]
        asked = generate_registration_options(
            rp_id=self._host,
            rp_name=self._clinic,
            user_id=str(person.id).encode(),
            user_name=person.name,
            challenge=_challenge(token),
            exclude_credentials=known,
            authenticator_selection=AuthenticatorSelectionCriteria(
                resident_key=ResidentKeyRequirement.REQUIRED, user_verification=VERIFIED
            ),
        )
        return options_to_json(asked)

    def ask_to_use(self, token: str) -> str:
        """What the browser is asked, to use one."""
        challenge = _challenge(token)
        asked = generate_authentication_options(
            rp_id=self._host, challenge=challenge, user_verification=VERIFIED
        )
        return options_to_json(asked)

    def keep(self, store: Store, person: Person, given: str, token: str, now: datetime) -> bool:
        """Keep what the browser made; False where it is not what was asked for."""
        try:
            made = verify_registration_response(
                credential=given,
                expected_challenge=_challenge(token),
                expected_rp_id=self._host,
                expected_origin=self._origin,
                require_user_verification=True,
            )
        except (WebAuthnException, ValueError):
            return False
        audit.note(store, person.id, "passkey added", now)
        key, uses = made.credential_public_key, made.sign_count
        return passkeys.add(store, person.id, made.credential_id, key, uses, now)

    def let_in(self, store: Store, given: str, token: str, now: datetime) -> str | None:
        """The key of a session, for the owner of a passkey; None for anybody else."""
        try:
            kept = passkeys.by_credential(store, base64url_to_bytes(json.loads(given)["rawId"]))
            if kept is None:
                return None
            found = verify_authentication_response(
                credential=given,
                expected_challenge=_challenge(token),
                expected_rp_id=self._host,
                expected_origin=self._origin,
                credential_public_key=kept.public_key,
                credential_current_sign_count=kept.uses,
                require_user_verification=True,
            )
        except (WebAuthnException, ValueError, KeyError, TypeError):
            return None
        passkeys.used(store, kept.id, found.new_sign_count)
        person = people.person(store, kept.person)
        audit.note(store, person.id, "passkey used", now)
        return page_keys.begin_session(store, person.id, now)


def _challenge(token: str) -> bytes:
    """Nobody can foretell the token, and it is good for one answer."""
    return sha256(f"passkey {token}".encode()).digest()
