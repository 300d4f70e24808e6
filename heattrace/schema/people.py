"""Persons, what they may sign, their keys, and the values a works may set."""

from __future__ import annotations

from heattrace.schema.columns import (
    Row,
    ended,
    entered,
    flag,
    index,
    instant,
    key,
    live_unique,
    number,
    octets,
    one_of,
    table,
    text,
    whole,
)


class Person(Row, table=True):
    """Somebody who writes or signs."""

    __tablename__ = "person"
    __table_args__ = table(
        "persons with role and independence from casting",
        one_of("role", "clerk", "foreman", "metallurgist", "inspection", "complaints", "quality-manager"),
        live_unique("person_name", "name"),
    )
    person_id: int | None = key()
    name: str = number("name as printed")
    role: str = number("role in the works")
    independent: int = flag("independent of casting and rolling")
    from_at: int = instant("member from")
    until_at: int | None = instant("member until", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class SigningKey(Row, table=True):
    """A public key; the private one lies outside the database."""

    __tablename__ = "signing_key"
    __table_args__ = table("public Ed25519 keys of persons", index("signing_key_person", "person_id"))
    signing_key_id: int | None = key()
    person_id: int = whole("whose key", to="person.person_id")
    public_key: bytes = octets("Ed25519 public key, 32 bytes")
    practice: int = flag("marked practice: signs nothing real")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Authority(Row, table=True):
    """Who may sign what, for which grade family, from when to when."""

    __tablename__ = "authority"
    __table_args__ = table("who may sign what", index("authority_person", "person_id"))
    authority_id: int | None = key()
    person_id: int = whole("who", to="person.person_id")
    act: str = number("the act that may be signed")
    family: str | None = number("grade family it is limited to", null=True)
    from_at: int = instant("valid from")
    until_at: int | None = instant("valid until", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class Approval(Row, table=True):
    """A second person's approval of a limit edition or another proposal."""

    __tablename__ = "approval"
    __table_args__ = table("second-person approvals", index("approval_subject", "subject"))
    approval_id: int | None = key()
    subject: str = text("what is approved")
    person: str = text("who approved, as stated or signed")
    signature_id: int | None = whole("signature", null=True, to="signature.signature_id")
    entry_no: int = entered()
    ended_no: int | None = ended()


class RuleSet(Row, table=True):
    """A version of the rules that judge."""

    __tablename__ = "rule_set"
    __table_args__ = table("versions of the judging rules", live_unique("rule_set_version", "version"))
    rule_set_id: int | None = key()
    version: str = number("version of the rule set")
    description: str = text("rule codes and titles, canonical JSON")
    entry_no: int = entered()
    ended_no: int | None = ended()


class WorksValue(Row, table=True):
    """One edition of one works-editable value; a name without a row has the shipped value, edition 0."""

    __tablename__ = "works_value"
    __table_args__ = table(
        "works-editable values by edition",
        live_unique("works_value_edition", "name", "scope", "edition"),
        index("works_value_name", "name"),
    )
    works_value_id: int | None = key()
    name: str = number("name of the value")
    scope: str = number("what it is limited to: a grade family, event kind, section ...; empty for all")
    edition: int = whole("edition, from 1")
    value: str = text("value, canonical JSON")
    reason: str = text("why it was set")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Signature(Row, table=True):
    """One signature over a canonical text."""

    __tablename__ = "signature"
    __table_args__ = table("Ed25519 signatures", index("signature_key", "signing_key_id"))
    signature_id: int | None = key()
    signing_key_id: int = whole("key that signed", to="signing_key.signing_key_id")
    meaning: str = number("meaning of the signature")
    signed_text: str = text("canonical text that was signed")
    signature: bytes = octets("64 bytes")
    unattended: int = flag("signed with a passphrase file, nobody at the keyboard")
    signed_at: int = instant("when")
    entry_no: int = entered()
    ended_no: int | None = ended()
