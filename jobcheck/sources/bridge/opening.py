"""Open a controller's file as the kind that the map declares."""

from __future__ import annotations

from jobcheck.schema.bridge import ControllerFile
from jobcheck.sources.bridge.source import Source

KINDS_BY_ENDING = {
    ".xml": "xml",
    ".json": "json",
    ".yaml": "yaml",
    ".yml": "yaml",
    ".toml": "toml",
    ".ini": "ini",
    ".cfg": "ini",
    ".conf": "ini",
    ".csv": "csv",
    ".tsv": "csv",
}
"""The kind of a file by its extension, if nothing declares it."""


def open_source(described: ControllerFile, data: bytes) -> Source:
    """Read one file of the controller; the reader of its kind is imported here.

    Raises:
        NotUnderstood: it is of another kind, or incomplete.
    """
    file, encoding = described.file, described.encoding
    if described.kind == "xml":
        from jobcheck.sources.bridge.xml_source import XmlSource

        return XmlSource(data, file, encoding, described.namespaces)
    if described.kind == "json":
        from jobcheck.sources.bridge.json_source import JsonSource

        return JsonSource(data, file, encoding)
    if described.kind == "yaml":
        from jobcheck.sources.bridge.yaml_source import YamlSource

        return YamlSource(data, file, encoding)
    if described.kind == "toml":
        from jobcheck.sources.bridge.toml_source import TomlSource

        return TomlSource(data, file, encoding)
    if described.kind == "ini":
        from jobcheck.sources.bridge.ini_source import IniSource

        return IniSource(data, file, encoding)
    from jobcheck.sources.bridge.csv_source import CsvSource

    key_column = described.key_column or ""
    return CsvSource(data, file, encoding, described.delimiter, key_column)
