"""The bridge: where the description's values live in the controller's own files.

The map is the user's; the forms of file and the languages of addresses are general ones: XPath 1.0
(W3C), JSONPath (RFC 9535), section and key, row and column.
"""

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from jobcheck.schema.fields import Described, note, setting
from jobcheck.schema.values import Key

FileKind = Literal["xml", "json", "yaml", "toml", "ini", "csv"]
Word = str | int | float | bool


class Split(Described):
    """One part of a text that holds several values."""

    by: str = setting(
        "Text between the values; one blank matches any run of blanks.",
        min_length=1,
        examples=[" ", ","],
    )
    take: int = setting("Which part, the first is 1.", ge=1, le=1000)


class Conversion(Described):
    """How a value of the controller becomes one of the description, and exactly back.

    A number is first taken with its sign, then scaled and shifted, then put into the field's unit:
    (negate ? -v : v) * scale + offset.
    """

    split: Split | None = setting("Take one part of a text.", None)
    unit: str | None = setting(
        "The controller's unit, where it is not the field's own.", None, examples=["um", "inch"]
    )
    negate: bool = setting("Whether the controller counts the other way round.", False)
    scale: float | None = setting("What the controller's number is multiplied by.", None)
    offset: float | None = setting("What is added after that.", None)
    on: str | None = setting(
        "The controller's word for true, or 1 where the file has 0 and 1.", None
    )
    off: str | None = setting("The controller's word for false, or 0.", None)
    words: dict[str, Word] | None = setting(
        "Each word of the controller with its value.",
        None,
        examples=[{"manual": 1, "aperture": 3}],
    )

    @model_validator(mode="after")
    def _is_invertible(self) -> "Conversion":
        numeric = self.unit or self.negate or self.scale is not None or self.offset is not None
        switch = self.on is not None or self.off is not None
        if sum(map(bool, (numeric, switch, self.words is not None))) > 1:
            raise ValueError("a number's conversion, on and off, and words exclude each other")
        if self.scale == 0:
            raise ValueError("a scale of 0 cannot be undone")
        if switch and (self.on is None or self.off is None or self.on == self.off):
            raise ValueError("on and off are two different words")
        if self.words is not None and len({(type(v), v) for v in self.words.values()}) < max(
            len(self.words), 1
        ):
            raise ValueError("words need different values, or nothing distinguishes them")
        return self


class Address(Conversion):
    """The address of one value in a file, and its conversion."""

    at: str = setting("The address, in the language of the file's kind.", min_length=1)


def _as_mapping(value: Any) -> Any:
    return {"at": value} if isinstance(value, str) else value


AddressField = Annotated[
    Address, BeforeValidator(_as_mapping, json_schema_input_type=str | Address)
]
"""An address, with its conversion where it has one; else as text alone."""


class EntryKey(Conversion):
    """The key of each repeated element."""

    at: str | None = setting(
        "The address of the key inside the element; the element's own name where not given.", None
    )


EntryKeyField = Annotated[
    EntryKey, BeforeValidator(_as_mapping, json_schema_input_type=str | EntryKey)
]


class Each(Described):
    """Repeated elements of a file that become entries of a collection, one each."""

    at: str = setting("The address of all the elements.", min_length=1)
    key: EntryKeyField | None = setting(
        "Where an element's key is in it; its own name where not given.", None
    )
    values: dict[str, AddressField] = setting(
        "Path inside the entry -> address inside the element.",
        examples=[{"pick.x": "at/@x"}],
    )
    apart: list[Key] = setting("Entries that the controller does not know.", [])


class ControllerFile(Described):
    """One file of the controller."""

    file: str = setting("The file, from the shop's folder.", examples=["controller/optics.xml"])
    kind: FileKind = setting("What kind of file it is.")
    encoding: str | None = setting(
        "Its encoding where it is not UTF-8 and the file does not say.", None
    )
    delimiter: Literal["comma", "semicolon", "tab"] = setting(
        "What parts the cells of a CSV file.", "comma"
    )
    key_column: str | None = setting("The column that names the rows of a CSV file.", None)
    namespaces: dict[Annotated[str, Field(pattern=r"^[A-Za-z_][\w.-]*$")], str] = setting(
        "Prefixes used in XPath addresses.", {}
    )
    values: dict[str, AddressField] = setting(
        "Path into the description -> address in the file.", {}
    )
    each: dict[str, Each] = setting(
        "Collection of the description -> the elements that are its entries.", {}
    )
    note: str | None = note("For people.")

    @model_validator(mode="after")
    def _rows_are_named(self) -> "ControllerFile":
        if (self.kind == "csv") != (self.key_column is not None):
            raise ValueError("key_column names the rows of a CSV file: those need it, others not")
        return self


class Bridge(Described):
    """The map between the description and the controller's own files."""

    describes: Literal["bridge"] = note("The kind of this document.", ...)
    edition: Literal[1] = note("The edition of the description.", ...)
    files: dict[Key, ControllerFile] = setting("The controller's files, each by a name.", {})
    note: str | None = note("For people.")
