"""What the kennel's first page shows of litters."""

from kennel.records.door import Door
from kennel.web.base import KennelPage
from kennel.web.home import Panel
from litters.web import reads
from litters.web.litters import with_pups


def litters_panel(page: KennelPage, door: Door) -> Panel:
    """Each litter that is expected or being raised, its pups with their newest weight and its age."""
    return Panel("litters/panel.html", {"litters": with_pups(reads.litters(door.kennel.id), door.kennel.id)})
