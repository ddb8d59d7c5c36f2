"""What an issued document says of itself under its signature: in words for a reader, and read again from them."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime

_SAID = re.compile(
    r"(?P<document>\S+) issue (?P<issue>[1-9][0-9]{0,8}) of (?P<shop>.{1,200}), issued (?P<at>[0-9TZ:-]{20})\. "
    r"Data SHA-256 (?P<data>[0-9a-f]{64})\. Follows entry (?P<number>[1-9][0-9]{0,15}) (?P<hash>[0-9a-f]{64}) "
    r"of the journal that begins with (?P<founding>[0-9a-f]{64})\."
)


@dataclass(frozen=True, slots=True)
class Statement:
    """What stands under a signature.

    Attributes
    ----------
    document, issue : number of the document, and which issue of it.
    shop : who issued it.
    at : when, by the shop's server.
    data_sha256 : of the facts in it, as the paper prints it.
    number, hash : of the last entry of the journal before it.
    founding : hash of the journal's first entry, by which accounts are told apart.
    """

    document: str
    issue: int
    shop: str
    at: datetime
    data_sha256: str
    number: int
    hash: str
    founding: str

    def text(self) -> str:
        """The statement as it is signed."""
        at = self.at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        return (
            f"{self.document} issue {self.issue} of {self.shop}, issued {at}. Data SHA-256 {self.data_sha256}. "
            f"Follows entry {self.number} {self.hash} of the journal that begins with {self.founding}."
        )


def read_statement(text: str) -> Statement | None:
    """What a signature says, or nothing if it is none of an issued document."""
    found = _SAID.fullmatch(text)
    if found is None:
        return None
    try:
        at = datetime.fromisoformat(found["at"])
    except ValueError:
        return None
    return Statement(
        document=found["document"],
        issue=int(found["issue"]),
        shop=found["shop"],
        at=at,
        data_sha256=found["data"],
        number=int(found["number"]),
        hash=found["hash"],
        founding=found["founding"],
    )
