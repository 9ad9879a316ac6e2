"""The conservation statement of the whole object: put together from its records, and aware when it is stale."""

from conserve.statement.document import document_of
from conserve.statement.indexing import Overtaken, index, index_of, overtaken
from conserve.statement.kept import Sent, read_index, read_sent, shown_pictures
from conserve.statement.model import Document
from conserve.statement.page import html
from conserve.statement.text import markdown

__all__ = [
    "Document",
    "Overtaken",
    "Sent",
    "document_of",
    "html",
    "index",
    "index_of",
    "markdown",
    "overtaken",
    "read_index",
    "read_sent",
    "shown_pictures",
]
