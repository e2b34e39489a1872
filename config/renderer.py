"""How forms are drawn: with the parts every page uses."""

from django.forms.renderers import TemplatesSetting


class HouseRenderer(TemplatesSetting):
    form_template_name = "_parts/form.html"
    formset_template_name = "_parts/formset.html"
    field_template_name = "_parts/field.html"
