"""Noticing, on the first screen, that a site was visited before, and offering to visit it again."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from textual import work

from commission.errors import CommissionError
from commission.revisit.seen import Seen, seen_in
from commission.screens.opening import Opening
from commission.screens.own_app import app_of

if TYPE_CHECKING:
    from commission.plant.files import LoadedPlant
    from commission.revisit.offer import Offer
    from commission.screens.app_visit import StillWanted


class Offering(Opening):
    """Offers a service visit where signed records of a site are at hand."""

    def __init__(self) -> None:
        super().__init__()
        self._told: dict[str, Offer] = {}
        """What could be done, by what was named."""

    # what subclasses do

    def begin_anew(self, loaded: LoadedPlant) -> None:
        """Begin the commissioning of a plant."""

    def tell_offer(self, named: str, offer: Offer) -> None:
        """Tell what a service visit could be on the line of what was named."""

    # where records are

    def seen(self) -> tuple[Seen, ...]:
        """Return the newest record of each site in the folder named, else beside the site file or here."""
        app = app_of(self)
        if app.records is not None:
            return seen_in([app.records if app.records.is_dir() else app.records.parent])
        beside = [] if app.site is None else [app.site.absolute().parent]
        return seen_in([*beside, Path.cwd()])

    def offer_or_begin(self, loaded: LoadedPlant) -> None:
        """Ask whether to visit again or to begin anew where the site has records; else begin."""
        app = app_of(self)
        folders = [loaded.path.absolute().parent, Path.cwd()]
        site = loaded.plant.site.site.id
        if app.records is None and all(one.site != site for one in seen_in(folders)):
            self.begin_anew(loaded)
            return
        self._look(str(loaded.path), loaded, ask=True)

    def visit_again(self, named: str) -> None:
        """Show what a service visit of a site file or a record could be."""
        known = self._told.get(named)
        if known is not None:
            self._show(known.at(app_of(self).now().date()))
            return
        self._look(named, None, ask=False)

    def forget_offers(self) -> None:
        """Forget what was read of records: another may have been written or returned since."""
        self._told.clear()

    def look_ahead(self, named: str) -> None:
        """Read the records of a site while the person looks at the first screen."""
        self._look_ahead(named)

    @work(thread=True, exclusive=True, group="offer", exit_on_error=False)
    def _look_ahead(self, named: str) -> None:
        offer, _ = self._found(named)
        if offer is not None:
            self._call(lambda: self._keep(named, offer))

    def _look(self, named: str, loaded: LoadedPlant | None, *, ask: bool) -> None:
        def read(_: StillWanted) -> Callable[[], None]:
            offer, said = self._found(named)
            return lambda: self._looked(named, offer, said, loaded, ask=ask)

        self.doing("reading the records of this site", read)

    def _found(self, named: str) -> tuple[Offer | None, tuple[str, ...]]:
        app = app_of(self)
        app.ahead.finish()
        from commission.revisit.offer import offer_of

        try:
            return offer_of(Path(named), today=app.now().date(), records=app.records)
        except CommissionError as error:
            return None, (str(error),)

    def _call(self, then: object) -> None:
        if callable(then) and self.is_running:
            self.app.call_from_thread(then)

    def _keep(self, named: str, offer: Offer) -> None:
        self._told[named] = offer
        self.tell_offer(named, offer)

    def _looked(
        self,
        named: str,
        offer: Offer | None,
        said: tuple[str, ...],
        loaded: LoadedPlant | None,
        *,
        ask: bool,
    ) -> None:
        for text in said:
            self.app.notify(text, severity="warning", timeout=20, markup=False)
        if offer is None:
            self.say("; ".join(said) or "no signed record of this site is here")
            if loaded is not None:
                self.begin_anew(loaded)
        elif ask and loaded is not None:
            self._told[named] = offer
            self._ask(offer, loaded)
        else:
            self._show(offer)

    def _ask(self, offer: Offer, loaded: LoadedPlant) -> None:
        from commission.revisit.told import summary
        from commission.screens.panels import Choice, ChoicePanel

        choices = [
            Choice("service", f"{'service':<11} {summary(offer)}"),
            Choice("begin", f"{'begin':<11} a commissioning from the first step on"),
        ]

        def chosen(key: str | None) -> None:
            if key == "service":
                self._show(offer)
            elif key == "begin":
                self.begin_anew(loaded)

        self.app.push_screen(ChoicePanel("This site was visited before", choices), chosen)

    def _show(self, offer: Offer) -> None:
        app_of(self).show_offer(offer, offer.at_hand)
