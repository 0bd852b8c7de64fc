"""The protocol data units (PDUs) of SMPP 3.4 that the channel sends and reads, as bytes.

Does: build the bodies that we send; read what a carrier delivers. Never: opens a connection, knows
what a message means. Lenient in reading, strict in sending: carriers add parameters and status
codes of their own, and a message must not be lost for that.
Source of numbers and layouts: SMPP Protocol Specification v3.4 (SMPP Developers Forum, 1999),
sections 4 and 5. Read next: `smpp_session`.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from datetime import timedelta
from enum import IntEnum

HEADER = struct.Struct("!IIII")
"""Length of the whole unit, command, status, sequence number. Source: section 3.2."""

PDU_MAX = 70_000
"""Longest unit taken [octets]: a message_payload of 64 KiB and what stands around it. Convention:
anything longer is not SMPP."""

RESPONSE_BIT = 0x8000_0000
"""A response has its request's command with this bit set. Source: section 5.1.2.1."""


class Command(IntEnum):
    """What a unit is. Source: section 5.1.2.1."""

    SUBMIT_SM = 0x04
    DELIVER_SM = 0x05
    UNBIND = 0x06
    BIND_TRANSCEIVER = 0x09
    ENQUIRE_LINK = 0x15
    ALERT_NOTIFICATION = 0x102
    GENERIC_NACK = 0x8000_0000


class Status(IntEnum):
    """How a request fared, as far as we act on it or name it. Source: section 5.1.3, table 5-2."""

    ESME_ROK = 0x00
    ESME_RINVMSGLEN = 0x01
    ESME_RINVCMDID = 0x03
    ESME_RINVBNDSTS = 0x04
    ESME_RALYBND = 0x05
    ESME_RSYSERR = 0x08
    ESME_RINVSRCADR = 0x0A
    ESME_RINVDSTADR = 0x0B
    ESME_RBINDFAIL = 0x0D
    ESME_RINVPASWD = 0x0E
    ESME_RINVSYSID = 0x0F
    ESME_RMSGQFUL = 0x14
    ESME_RSUBMITFAIL = 0x45
    ESME_RINVSRCTON = 0x48
    ESME_RINVSRCNPI = 0x49
    ESME_RTHROTTLED = 0x58
    ESME_RINVEXPIRY = 0x62
    ESME_RX_T_APPN = 0x64


class Tag(IntEnum):
    """Optional parameters that are read. Source: section 5.3.2."""

    RECEIPTED_MESSAGE_ID = 0x001E
    SAR_MSG_REF_NUM = 0x020C
    SAR_TOTAL_SEGMENTS = 0x020E
    SAR_SEGMENT_SEQNUM = 0x020F
    MESSAGE_PAYLOAD = 0x0424
    MESSAGE_STATE = 0x0427


class TypeOfNumber(IntEnum):
    """How an address is to be read. Source: section 5.2.5."""

    UNKNOWN = 0
    INTERNATIONAL = 1
    NATIONAL = 2
    NETWORK_SPECIFIC = 3
    ALPHANUMERIC = 5


ISDN = 1
"""Numbering plan of telephone numbers (E.163/E.164). Source: section 5.2.6."""

VERSION = 0x34
"""interface_version of SMPP 3.4. Source: section 5.2.4."""

HEADED = 0x40
"""esm_class: the message begins with a user data header. Source: section 5.2.12."""

FINAL_RECEIPT = 0x01
"""registered_delivery: tell the final outcome, good or bad. Source: section 5.2.17."""


@dataclass(frozen=True)
class Address:
    """A number or name, with how it is to be read."""

    text: str
    ton: int = TypeOfNumber.UNKNOWN
    npi: int = 0


@dataclass(frozen=True)
class Deliver:
    """What a deliver_sm carries. `message`: short_message, or message_payload where that is."""

    source: Address
    destination: Address
    esm_class: int
    data_coding: int
    message: bytes
    parameters: dict[int, bytes] = field(default_factory=dict)

    @property
    def headed(self) -> bool:
        """The message begins with a user data header."""
        return bool(self.esm_class & HEADED)

    def number(self, tag: Tag) -> int | None:
        """An optional parameter that is a whole number, None where it is absent or empty."""
        value = self.parameters.get(tag, b"")
        return int.from_bytes(value, "big") if value else None


def status_name(status: int) -> str:
    """The standard's name for a status, or the number of one that is the carrier's own."""
    try:
        return Status(status).name
    except ValueError:
        return f"status 0x{status:08X}"


def unit(command: int, sequence: int, body: bytes = b"", status: int = Status.ESME_ROK) -> bytes:
    """A whole unit, ready to be written."""
    return HEADER.pack(HEADER.size + len(body), command, status, sequence) + body


def bind_body(system_id: str, password: str, system_type: str) -> bytes:
    """The body of a bind_transceiver, for all addresses of the account."""
    names = b"".join(_text(value) for value in (system_id, password, system_type))
    return names + bytes((VERSION, 0, 0)) + b"\0"


def submit_body(
    source: Address,
    destination: Address,
    message: bytes,
    data_coding: int,
    *,
    headed: bool,
    validity: timedelta | None,
) -> bytes:
    """The body of a submit_sm that asks for a receipt. `message`: at most 254 octets.

    `validity`: how long the carrier may try; None leaves it to the carrier.
    """
    return b"".join(
        (
            _text(""),  # service_type: the account's
            _address(source),
            _address(destination),
            bytes((HEADED if headed else 0, 0, 0)),  # esm_class, protocol_id, priority_flag
            _text(""),  # schedule_delivery_time: now
            _text("" if validity is None else _relative(validity)),
            # registered_delivery, replace_if_present_flag, data_coding, sm_default_msg_id, length
            bytes((FINAL_RECEIPT, 0, data_coding, 0, len(message))),
            message,
        )
    )


def message_id(body: bytes) -> str:
    """The message id in the body of a submit_sm_resp; empty where the carrier gave none."""
    return body.split(b"\0", 1)[0].decode("latin-1").strip()


def read_deliver(body: bytes) -> Deliver:
    """Read the body of a deliver_sm. Raises ValueError where it ends too early."""
    left = _Left(body)
    left.text()  # service_type
    source, destination = left.address(), left.address()
    esm_class, _protocol, _priority = left.octets(3)
    left.text()  # schedule_delivery_time
    left.text()  # validity_period
    _registered, _replace, data_coding, _default, length = left.octets(5)
    message = left.octets(length)
    parameters = left.parameters()
    message = message or parameters.get(Tag.MESSAGE_PAYLOAD, b"")
    return Deliver(source, destination, esm_class, data_coding, message, parameters)


class _Left:
    """What is left to read of a body."""

    def __init__(self, body: bytes) -> None:
        self._body = body

    def octets(self, count: int) -> bytes:
        """The next octets, exactly so many."""
        taken, self._body = self._body[:count], self._body[count:]
        if len(taken) < count:
            raise ValueError(f"expected {count} more octets, found {len(taken)}")
        return taken

    def text(self) -> str:
        """The next text, up to its closing zero octet."""
        taken, zero, self._body = self._body.partition(b"\0")
        if not zero:
            raise ValueError("expected a text closed by a zero octet")
        return taken.decode("latin-1")

    def address(self) -> Address:
        """The next address."""
        ton, npi = self.octets(2)
        return Address(self.text(), ton, npi)

    def parameters(self) -> dict[int, bytes]:
        """All optional parameters. What is cut short at the very end is left out: the message
        itself has been read by then."""
        found: dict[int, bytes] = {}
        while len(self._body) >= 4:
            tag, length = struct.unpack("!HH", self.octets(4))
            if length > len(self._body):
                break
            found[tag] = self.octets(length)
        return found


def _text(value: str) -> bytes:
    return value.encode("ascii") + b"\0"


def _address(address: Address) -> bytes:
    return bytes((address.ton, address.npi)) + _text(address.text)


def _relative(span: timedelta) -> str:
    """A span as SMPP writes it: YYMMDDhhmmss, then 000R. Source: section 7.1.1.2."""
    minutes, seconds = divmod(int(span.total_seconds()), 60)
    hours, minutes = divmod(minutes, 60)
    days, hours = divmod(hours, 24)
    return f"0000{days:02}{hours:02}{minutes:02}{seconds:02}000R"
