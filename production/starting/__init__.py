"""Starting values: what an empty nursery is given so that it can plan its first order.

All of it is the grower's to edit, and each value says where it comes from. *Practice* is 'common practice, no
source'; where a published source speaks as well, practice is active and the published value stands beside it.
Where practice is silent, the published value is active.
"""

from django.utils.translation import gettext_lazy as _

PRACTICE = _("Common practice, no source.")
