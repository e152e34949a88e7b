"""XML as a small tree that knows its lines, read by the standard library's parser with everything dangerous refused.

Entity declarations are refused (they can grow without bound or name files), as are external subsets' contents, depth
and size over a limit; a plain DOCTYPE line, as MusicXML files carry it, is read over.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

from progressions.errors import ExchangeError

LARGEST_BYTES = 8_000_000
DEEPEST = 60
MOST_ELEMENTS = 400_000


@dataclass(slots=True)
class Node:
    """One element: `text` is what stands before its first child, stripped."""

    tag: str
    attributes: dict[str, str]
    line: int
    text: str = ""
    children: list[Node] = field(default_factory=list)

    def all(self, tag: str) -> Iterator[Node]:
        return (child for child in self.children if child.tag == tag)

    def first(self, *path: str) -> Node | None:
        """The first child by that tag, or further down a path of tags."""
        node: Node | None = self
        for tag in path:
            if node is None:
                return None
            node = next(node.all(tag), None)
        return node

    def text_of(self, *path: str) -> str:
        """The text of the first element of a path, empty where there is none."""
        node = self.first(*path)
        return "" if node is None else node.text


class _Builder:
    def __init__(self, name: str, parser: expat.XMLParserType) -> None:
        self.name, self.parser = name, parser
        self.root: Node | None = None
        self.open: list[Node] = []
        self.count = 0

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        line = self.parser.CurrentLineNumber
        self.count += 1
        if len(self.open) >= DEEPEST or self.count > MOST_ELEMENTS:
            limit = f"at most {DEEPEST} elements within each other and {MOST_ELEMENTS} in all"
            raise ExchangeError(self.name, f"line {line}", "too large a document", limit)
        node = Node(tag, attributes, line)
        if self.open:
            self.open[-1].children.append(node)
        else:
            self.root = node
        self.open.append(node)

    def end(self, tag: str) -> None:
        self.open.pop()

    def data(self, text: str) -> None:
        if self.open and not self.open[-1].children:
            self.open[-1].text += text

    def refuse_entity(self, *declaration: object) -> None:
        line = f"line {self.parser.CurrentLineNumber}"
        raise ExchangeError(self.name, line, "an entity declaration", "plain XML without entities of its own")


def read_xml(data: bytes, name: str) -> Node:
    """The root element of a document. Raises ExchangeError with the line."""
    if len(data) > LARGEST_BYTES:
        raise ExchangeError(name, "line 1", "too large a document", f"at most {LARGEST_BYTES} bytes")
    parser = expat.ParserCreate()
    builder = _Builder(name, parser)
    parser.buffer_text = True
    parser.StartElementHandler = builder.start
    parser.EndElementHandler = builder.end
    parser.CharacterDataHandler = builder.data
    parser.EntityDeclHandler = builder.refuse_entity
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        place = f"line {error.lineno}, column {error.offset + 1}"
        raise ExchangeError(name, place, expat.ErrorString(error.code) or "broken XML", "well-formed XML") from None
    except ExchangeError:
        raise
    except (ValueError, LookupError) as error:  # an encoding that this Python cannot read
        raise ExchangeError(name, "line 1", f"unreadable text ({error})", "XML in UTF-8") from None
    if builder.root is None:
        raise ExchangeError(name, "line 1", "no element", "XML")
    return strip_texts(builder.root)


def strip_texts(root: Node) -> Node:
    todo = [root]
    while todo:
        node = todo.pop()
        node.text = node.text.strip()
        todo += node.children
    return root
