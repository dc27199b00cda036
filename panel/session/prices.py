"""Prices and classes of bottles, as people write them into further columns of ``bottles.csv``."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from ..base.headings import column_of
from ..base.written_numbers import understand
from .bottles import Bottle

CURRENCIES = {
    "JPY": ("円", "¥", "jpy", "yen"),
    "EUR": ("€", "eur"),
    "USD": ("$", "usd"),
    "GBP": ("£", "gbp"),
}
_THOUSANDS = re.compile(r"\d{1,3}(,\d{3})+(\.\d{1,2})?")
"""No price has three decimals: 2,400 is a number of thousands."""


@dataclass(frozen=True, slots=True)
class Offered:
    """What a bottle is sold as.

    Attributes
    ----------
    price, designation : str
        As they stand; "" where nobody said.
    amount : float or None
        The price as a number, None where it is none.
    currency : str
        One of `CURRENCIES`; "" where none stands there.
    """

    price: str = ""
    designation: str = ""
    amount: float | None = None
    currency: str = ""


def offered(bottle: Bottle) -> Offered:
    """Return price and class of a bottle.

    >>> offered(Bottle(name="a", further={"Price": "2,400円"})).amount
    2400.0
    """
    told = {
        column_of(head, ("price", "designation")): text for head, text in bottle.further.items()
    }
    price = told.get("price", "")
    amount, currency = amount_of(price)
    return Offered(price, told.get("designation", ""), amount, currency)


def amount_of(text: str) -> tuple[float | None, str]:
    """Return a price as a number with its currency, None where it cannot be read in one way.

    >>> amount_of("¥2400"), amount_of("24.00 €"), amount_of("about 20")
    ((2400.0, 'JPY'), (24.0, 'EUR'), (None, ''))
    """
    plain = unicodedata.normalize("NFKC", text).casefold().strip()
    currency = ""
    for name, signs in CURRENCIES.items():
        for sign in signs:
            if plain.startswith(sign) or plain.endswith(sign):
                currency, plain = name, plain.removeprefix(sign).removesuffix(sign).strip()
    if _THOUSANDS.fullmatch(plain):
        plain = plain.replace(",", "")
    amount = understand(plain)
    return (amount, currency) if amount is not None and amount > 0 else (None, currency)
