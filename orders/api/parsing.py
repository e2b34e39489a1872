"""What is sent to the API as JSON, read; refused with its reason where no reader of ours could go on with it."""

from __future__ import annotations

from collections.abc import Mapping
from io import BytesIO
from typing import IO, Any

from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from django.utils.translation import gettext as _
from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser


class JSON(JSONParser):
    """JSON as DRF reads it, of bounded size and depth, and of whole characters only."""

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
        sent = stream.read(most + 1)
        if len(sent) > most:
            raise RequestDataTooBig
        try:
            data = super().parse(BytesIO(sent), media_type, parser_context)
        except RecursionError:
            raise ParseError(_("What is sent is nested too deeply.")) from None
        if b"\\u" in sent and not _is_text(data):
            # RFC 8259, 8.2: '"\uDEAD"', half of a pair, is allowed as JSON and stands for no character.
            raise ParseError(_("What is sent holds half a character; write both halves of each \\u pair."))
        return data


def _is_text(data: Any) -> bool:
    """Whether all texts in it can be written as UTF-8."""
    if isinstance(data, str):
        return not any("\ud800" <= character <= "\udfff" for character in data)
    if isinstance(data, dict):
        return all(_is_text(key) and _is_text(value) for key, value in data.items())
    return all(map(_is_text, data)) if isinstance(data, list) else True
