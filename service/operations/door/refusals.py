"""Why an act is refused, in workshop words.

Each class is one reason with a stable name (`kind`), which the API turns into a problem type; its docstring is the text
of that problem's page. The sentence is for the person at the bench, `facts` are numbers for a program, and `way_out`
says what to do next. Where the act can be done after all if the person says so, `answer_with` has what is to be said
with it: a page draws a button of it, a program sends it, and no sentence names a field. None of them knows of HTTP.
"""

from typing import Any, ClassVar


class Refusal(Exception):
    """The act was refused."""

    kind: ClassVar[str] = "refused"
    title: ClassVar[str] = "Refused"

    def __init__(self, sentence: str, *, way_out: str | None = None, pointer: str | None = None, **facts: Any) -> None:
        self.sentence = sentence
        self.way_out = way_out
        self.pointer = pointer
        self.facts = facts
        super().__init__(sentence)


class NotAllowed(Refusal):
    """The key's roles do not cover this act. Someone with one of the roles named can do it."""

    kind = "not-allowed"
    title = "Not allowed"


class SignatureRequired(NotAllowed):
    """What is done here is signed by a person with a secret of their own. Give it at POST /v1/signing, then repeat.

    The token that it is answered with goes along in the header Signing-Token and signs for a few minutes.
    """

    kind = "signature-required"
    title = "Sign it"


class NoSecretYet(NotAllowed):
    """Who signs needs a secret of their own, which they set themselves, once: a PIN or a passphrase."""

    kind = "no-secret"
    title = "No secret set yet"


class WrongSecret(NotAllowed):
    """That is not the secret of the key's person. `tries_left` says how often it may still be tried."""

    kind = "wrong-secret"
    title = "Wrong secret"


class SecretLocked(NotAllowed):
    """Too many wrong secrets were tried. Another person unlocks it: an administrator, the lead or quality."""

    kind = "secret-locked"
    title = "Locked"


class UnknownThing(Refusal):
    """There is nothing of that code or number here. Check the label, or look it up in the list of its kind."""

    kind = "unknown"
    title = "Not known here"


class Unprocessable(Refusal):
    """The request can be read, but its values do not fit together. The sentence says which and why."""

    kind = "invalid"
    title = "Values that do not fit"


class AlreadyThere(Refusal):
    """Something of that name exists already. Use it, or give the new one another name."""

    kind = "already-there"
    title = "Already there"


class OrderedOtherwise(Refusal):
    """An order with this reference is here already, and what was sent now is not the same order.

    Nothing was planned. Sent again unchanged, an order is answered with what is there; a change has a route of its own.
    """

    kind = "ordered-otherwise"
    title = "Another order has this reference"


class ReceivedAlready(Refusal):
    """The same delivery note, lot and amount were received before. Two people may have typed one note."""

    kind = "received-already"
    title = "Received already"


class ChangedMeanwhile(Refusal):
    """Someone changed this record since it was read. Read it again and repeat the change."""

    kind = "changed-meanwhile"
    title = "Changed meanwhile"


class KeyReused(Refusal):
    """This Idempotency-Key was used for another request. Every new act needs a new key."""

    kind = "idempotency-key-reused"
    title = "Idempotency-Key used before"


class StillRunning(Refusal):
    """Another act holds what this one needs. Wait a moment and send the same request again, with the same key."""

    kind = "still-running"
    title = "Busy, send it again"


class ClockSetBack(Refusal):
    """The clock of the service's machine runs behind the journal. Nothing is recorded until it is right again."""

    kind = "clock-set-back"
    title = "The clock was set back"


class ShopReason(Refusal):
    """A rule of the shop stands against it."""

    kind = "shop-reason"
    title = "The shop's rules stand against it"


class WrongState(ShopReason):
    """The thing is not in a state in which this can be done. The sentence says where it stands and what comes next."""

    kind = "wrong-state"
    title = "Not now"


class NotFit(ShopReason):
    """What was to be used is not fit for use. `reasons` has every reason, and who may permit it, if anyone."""

    kind = "not-fit"
    title = "Not fit for use"


class ShortStock(ShopReason):
    """Not enough is left that nobody else has reserved. `left_g` says what is left; `instead` what else there is."""

    kind = "stock-short"
    title = "Not enough left"


class ReservedForOrder(ShopReason):
    """What is taken leaves too little of a material for an order that has it reserved; `orders` names each such one.

    Take what nobody has reserved. What is for a part of that order is drawn for that part, named at the start of the
    pot or with the cut. If it has to be all the same, say so: it is recorded, and the order is short.
    """

    kind = "reserved-for-order"
    title = "Reserved for an order"


class NotKept(ShopReason):
    """Nothing was reserved, since the order cannot be built from what is free by now. `answer` is that of the check.

    What is short, and what would help, a build check of the same lines tells.
    """

    kind = "cannot-be-reserved"
    title = "Cannot be reserved"


class OutOfOrder(ShopReason):
    """This ply is not what the design wants next: another number, angle, face, zone or cloth. `expected` says what is.

    If it lies in the mould already, say so: it is recorded as it lies, and flagged.
    """

    kind = "out-of-order"
    title = "Not the ply that comes next"


class MoreThanBooked(ShopReason):
    """More was taken than the book has in it. Scan it again: send the other can's code, or confirm this one."""

    kind = "more-than-booked"
    title = "More than the book has"


class ReadItBack(ShopReason):
    """A typed figure lies far from its target, is finer than the scale shows, or is more than there can be.

    Read the scale once more and give the figure again: nothing was stored yet.
    """

    kind = "read-back"
    title = "Read the scale once more"


class SaidTwice(ShopReason):
    """The same person recorded the same a few seconds ago. If it happened twice, say so; else leave it."""

    kind = "said-twice"
    title = "Recorded just now"


class WrongPair(ShopReason):
    """This container is not part of the resin system. `expected` names what is; another speed is another recipe."""

    kind = "wrong-pair"
    title = "Wrong pair"


class ScaleTooCoarse(ShopReason):
    """This scale cannot show the ratio of so small a pot. Take a finer scale or mix a larger pot; both are named.

    If it has to be this pot on this scale, send `confirmed: true` and say why: that asks for a permit, which a second
    person signs, and which settles the flag at the release.
    """

    kind = "scale-too-coarse"
    title = "Scale too coarse for this pot"


class ScaleTooSmall(ShopReason):
    """The scale does not take that load. Take a larger scale, or mix a smaller pot; the cup counts too."""

    kind = "scale-too-small"
    title = "Too much for this scale"


class ScaleOverdue(ShopReason):
    """The scale's check is overdue, or its last check failed. Check it with the check weight first."""

    kind = "scale-overdue"
    title = "Scale check overdue"


class PotTooLarge(ShopReason):
    """The pot would be larger than the data sheet allows. Mix several smaller pots one after the other."""

    kind = "pot-too-large"
    title = "Pot too large"


class CannotCorrect(ShopReason):
    """The pot cannot be corrected any more: something was applied, filler is in, or too much of its life is gone."""

    kind = "cannot-correct"
    title = "Cannot be corrected"


class OnHold(ShopReason):
    """It is on hold, or something that it was made of is. Quality can say why and lift the hold."""

    kind = "on-hold"
    title = "On hold"


class NotReleased(ShopReason):
    """It cannot be released yet. `open` lists what has to be settled first, and by whom."""

    kind = "not-releasable"
    title = "Not ready for release"


class SecondPersonRequired(ShopReason):
    """The one who asks or did it cannot sign it as well. A second person with the lead's or quality's role signs."""

    kind = "second-person-required"
    title = "A second person must sign"


class SameLotOnly(ShopReason):
    """A container is refilled only from the same lot. Two lots in one container are a blend, with a code of its own."""

    kind = "same-lot-only"
    title = "Only from the same lot"


class PeroxideBarred(ShopReason):
    """An organic peroxide is a catalyst of the systems that name it, and nothing else.

    It never meets a promoter or acetone, is never poured back, topped up or thinned, and is decanted only into its
    supplier's vented container. The data sheet and local rules come first.
    """

    kind = "peroxide-barred"
    title = "Organic peroxide"


class PumpNotChecked(ShopReason):
    """Nobody has weighed what a stroke of this pump gives. Weigh pairs of shots, the first after standing left out."""

    kind = "pump-not-checked"
    title = "Pump not checked"


class BarredFromTraceable(ShopReason):
    """The maker's lot number is not known, so it cannot go into a part that must be traceable."""

    kind = "lot-not-known"
    title = "Maker's lot not known"


class CertificateMissing(ShopReason):
    """The material asks for a certificate that its lot does not have yet. Add it, then release the lot."""

    kind = "certificate-missing"
    title = "Certificate missing"


class CannotUndo(ShopReason):
    """That entry cannot be undone as it stands, because later acts rest on it. Correct those first."""

    kind = "cannot-undo"
    title = "Later acts rest on it"


class UnreadableLog(ShopReason):
    """The logger's file cannot be read. `line` and `column` say where; nothing of it was kept."""

    kind = "unreadable-log"
    title = "The file cannot be read"


class DoesNotFitLabel(ShopReason):
    """The text that the label must carry does not fit this size. Take the larger size that is named."""

    kind = "label-too-small"
    title = "Label too small"


class AddressBarred(ShopReason):
    """Webhooks go to addresses of the open network, over https. A shop's own network is opened to them by a setting.

    `POTMARK_WEBHOOK_NETWORK` names such networks; loopback, private and link-local addresses are refused otherwise.
    """

    kind = "address-barred"
    title = "Nothing is sent there"


def every_refusal(base: type[Refusal] = Refusal) -> list[type[Refusal]]:
    """All reasons, for the pages that explain them and for the tests that sweep them."""
    found = [base]
    for child in base.__subclasses__():
        found += every_refusal(child)
    return found
