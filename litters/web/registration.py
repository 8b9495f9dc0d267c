"""The pages of this app, their places in the menu and on the kennel's first page."""

from kennel.people.choices import Role
from kennel.web import home, menu, shell
from kennel.web.urls import add_page
from litters.web import (
    breeding,
    dogs,
    figures,
    growth_tables,
    links,
    litters,
    panels,
    pups,
    readings,
    weigh_in,
    weighings,
    whelping,
)

KENNEL = "kennels/<str:kennel>"


def register() -> None:
    """Add them all; called once, from `apps.py`."""
    for route, view, name in (
        ("dogs", dogs.DogsPage, "dogs"),
        ("dogs/new", dogs.NewDogPage, "dog-new"),
        ("dogs/<str:uid>", dogs.DogPage, "dog"),
        ("dogs/<str:uid>/change", dogs.ChangeDogPage, "dog-change"),
        ("dogs/<str:uid>/weigh", dogs.WeighDogPage, "dog-weigh"),
        ("dogs/<str:uid>/temperature", readings.DogTemperaturePage, "dog-temperature"),
        ("dogs/<str:uid>/season", breeding.NewSeasonPage, "season-new"),
        ("dogs/<str:uid>/progesterone", breeding.NewProgesteronePage, "progesterone-new"),
        ("dogs/<str:uid>/mating", breeding.NewMatingPage, "mating-new"),
        ("figures", figures.FiguresPage, "figures"),
        ("figures/<str:area>/<str:key>", figures.AgreeFigurePage, "figure-agree"),
        ("growth-tables", growth_tables.GrowthTablesPage, "growth-tables"),
        ("growth-tables/new", growth_tables.NewGrowthTablePage, "growth-table-new"),
        ("growth-tables/<str:uid>", growth_tables.GrowthTablePage, "growth-table"),
        ("growth-tables/<str:uid>/change", growth_tables.ChangeGrowthTablePage, "growth-table-change"),
        ("litters", litters.LittersPage, "litters"),
        ("litters/new", litters.NewLitterPage, "litter-new"),
        ("litters/<str:uid>", litters.LitterPage, "litter"),
        ("litters/<str:uid>/change", litters.ChangeLitterPage, "litter-change"),
        ("litters/<str:uid>/weigh", weigh_in.WeighInPage, "weigh-in"),
        ("litters/<str:uid>/temperature", readings.PupTemperaturePage, "pup-temperature"),
        ("litters/<str:uid>/climate", readings.BoxClimatePage, "box-climate"),
        ("litters/<str:uid>/whelping", whelping.WhelpingPage, "whelping"),
        ("litters/<str:uid>/vet-card", whelping.VetCardPage, "vet-card"),
        ("litters/<str:uid>/pups/new", pups.NewPupPage, "pup-new"),
        ("pups/<str:uid>", pups.PupPage, "pup"),
        ("pups/<str:uid>/change", pups.ChangePupPage, "pup-change"),
        ("pups/<str:uid>/death", pups.PupDeathPage, "pup-death"),
        ("pups/<str:uid>/lives", pups.PupLivesPage, "pup-lives"),
        ("weigh", weigh_in.WeighPage, "weigh"),
        ("weighings/<str:uid>/correct", weighings.CorrectWeighingPage, "weighing-correct"),
        ("weighings/<str:uid>/remove", weighings.RemoveWeighingPage, "weighing-remove"),
    ):
        add_page(f"{KENNEL}/{route}", view, name)
    menu.add("Now", "web:home", order=1)
    menu.add("Weigh", "web:weigh", Role.CARER, order=10, quick=True)
    menu.add("Litters", "web:litters", order=30)
    menu.add("Dogs", "web:dogs", order=35)
    links.add(links.LITTER, "What to say to the vet", "web:vet-card", order=5, keep_offline=True)
    links.add(links.LITTER, "Import weights", "web:import-weights", Role.CARER, order=40, by_query=True)
    menu.add("Figures", "web:figures", order=88)
    menu.add("Growth tables", "web:growth-tables", order=89)
    home.add_panel(panels.litters_panel, order=60)
    shell.add_files("litters/weigh_in.js")
