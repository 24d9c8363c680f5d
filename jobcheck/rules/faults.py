"""What the faults of reading mean, for `jobcheck explain`."""

FAULTS: dict[str, str] = {
    "file-missing": "A file that the shop names is not there, is named twice, or is outside the "
    "shop's folder. Its part of the description is not checked. Restore the file or correct "
    "shop.yaml.",
    "file-unreadable": "A file cannot be read: it is a folder, a device, too large, or the system "
    "refuses. Put a readable text file there.",
    "encoding-wrong": "A file is not UTF-8 text. Save it as UTF-8; a byte order mark is allowed.",
    "merge-unfinished": "A file has the marks of an unfinished merge. Decide which lines are "
    "right, and remove the others and the marks.",
    "yaml-malformed": "The YAML breaks off, nests too deep, repeats too much, or holds a second "
    "document. Look at the line and the one above it.",
    "list-malformed": "A placement list or bill cannot be read: a missing or doubtful column, a "
    "ragged row, a cell that is not a number.",
    "kind-wrong": "A document does not describe what shop.yaml names it as.",
    "edition-newer": "A document is written for a newer jobcheck than this one. Install a newer "
    "jobcheck.",
    "key-repeated": "A key is twice in one mapping, or an identity is in two files. It is "
    "unknown which one is meant; keep one.",
    "key-unknown": "A key is not part of the description: it is misspelled, or is at the wrong "
    "place. A misspelled setting would silently not exist.",
    "key-missing": "A key that the description needs is missing.",
    "value-wrong": "A value is of the wrong kind or outside what the field can hold.",
    "value-empty": "A key has no value. Unknown is never zero: remove the key if the value is "
    "unknown.",
    "record-damaged": "A known-good record is not whole: a file in it is missing or was changed, "
    "its record.yaml or withdrawn.yaml cannot be read, its folder was renamed or copied, it shares "
    "its number with another, or its own files are not understood. The newest whole record is used "
    "meanwhile. Bring the folder back from version control, or withdraw the record.",
    "record-removed": "A commit removes a known-good record that the last commit has and that is "
    "not withdrawn. Put it back; `withdraw` marks a record as not good and deletes nothing.",
    "controller-file-malformed": "A controller's file is not of the kind that the map says, is not "
    "whole, names a value twice, or declares entities. Let the controller write it again; nothing "
    "was changed.",
    "bridge-address-wrong": "An address of the map cannot be understood, leads to several values "
    "or outside the shop, fills no value of the description, or is converted in a way that does "
    "not fit it. Correct the map.",
    "bridge-value-wrong": "The value at an address is of another type than the field that it "
    "fills. Correct the address, its conversion, or the controller's file.",
    "controller-file-missing": "The shop asks that its controller's files are compared, but one "
    "is not there, or not in the index at a commit: a warning then, since a commit reads nothing "
    "but the index.",
    "number-wrong": "A number is not finite, too large, or too long to be meant.",
}
"""Rule name of a fault -> what it means and what to do. A fault ends a lint with exit code 2."""
