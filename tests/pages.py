"""What tests of pages share."""


def filled(page) -> dict[str, str]:
    """What a browser would send back if the page were saved untouched."""
    sent = {}
    inlines = page.context.get("inlines", [])
    for form in [page.context["form"], *(row for _inline, formset in inlines for row in formset)]:
        for field in form:
            value = field.value()
            if value is not None and value is not False:
                sent[field.html_name] = value
    for _inline, formset in inlines:
        sent |= {field.html_name: field.value() for field in formset.management_form}
    return {name: "on" if value is True else value for name, value in sent.items()}
