"""XML read into plain nodes that know their line; nothing outside the file is read."""

from dataclasses import dataclass, field
from xml.parsers import expat

from ...networks import Finding, InputError


@dataclass(slots=True)
class Node:
    """One element."""

    tag: str
    """Without its namespace."""
    line: int
    attributes: dict[str, str] = field(default_factory=dict)
    children: "list[Node]" = field(default_factory=list)
    text: str = ""

    def all(self, tag: str) -> "list[Node]":
        """Return the children of a tag."""
        return [child for child in self.children if child.tag == tag]

    def find(self, path: str) -> "Node | None":
        """Return the first node down a path of tags, ``A/B``; None if there is none."""
        node = self
        for tag in path.split("/"):
            inside = node.all(tag)
            if not inside:
                return None
            node = inside[0]
        return node

    def said(self, path: str) -> str:
        """Return the text down a path, trimmed; empty if there is none."""
        node = self.find(path)
        return node.text.strip() if node is not None else ""


def read_xml(content: bytes, file: str) -> Node:
    """Return the root of a document.

    Parameters
    ----------
    content : bytes
    file : str
        Name for messages.

    Raises
    ------
    InputError
        It is not well-formed, or declares entities, which might reach outside.

    Examples
    --------
    >>> read_xml(b"<A><B x='1'>two</B></A>", "a.xml").said("B")
    'two'
    """
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    stack = [Node("", 0)]

    def start(name: str, attributes: dict[str, str]) -> None:
        plain = name.rpartition(" ")[2]
        node = Node(plain, parser.CurrentLineNumber, attributes)
        stack[-1].children.append(node)
        stack.append(node)

    def text(words: str) -> None:
        stack[-1].text += words

    def declares(*_: object) -> None:
        raise _refused(file, parser.CurrentLineNumber)

    parser.StartElementHandler = start
    parser.EndElementHandler = lambda _: stack.pop()
    parser.CharacterDataHandler = text
    parser.StartDoctypeDeclHandler = declares
    try:
        parser.Parse(content, True)
    except expat.ExpatError as error:
        raise InputError([_broken(file, error)]) from None
    return stack[0].children[0]


def _broken(file: str, error: expat.ExpatError) -> Finding:
    return Finding(
        "xml-not-well-formed",
        "fault",
        f"file {file}",
        file=file,
        line=error.lineno,
        booked=expat.ErrorString(error.code),
        against="XML in which every element that is opened is closed",
        likely="cut off, or edited by hand",
        mend="fetch the file again from its source",
    )


def _refused(file: str, line: int) -> InputError:
    return InputError(
        [
            Finding(
                "xml-not-well-formed",
                "fault",
                f"file {file}",
                file=file,
                line=line,
                booked="a DOCTYPE declaration",
                against="plain XML: a declaration could reach for other files",
                mend="take the DOCTYPE line out of a copy, and import that",
            )
        ]
    )
