"""What a harness found: how often it tried, and what was wrong."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass
class Count:
    """Rounds of a harness."""

    name: str
    rounds: int = 0
    wrong: list[str] = field(default_factory=list)
    ran_out: int = 0
    """Rounds that ended before they were disturbed."""
    note: str = ""
    """Why it could not be run here; empty where it could."""

    def add(self, where: str, wrong: str) -> None:
        """Count a round."""
        self.rounds += 1
        if wrong:
            self.wrong.append(f"{where}: {wrong}")

    def text(self) -> str:
        """Return the count as lines to print."""
        if self.note:
            return f"{self.name}: not run: {self.note}"
        early = f" ({self.ran_out} had ended before)" if self.ran_out else ""
        head = f"{self.name}: {self.rounds} rounds{early}, {len(self.wrong)} wrong"
        return "\n".join((head, *(f"  {one}" for one in self.wrong[:10])))
