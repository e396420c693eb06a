"""What was worked out before, kept by all that it rests on."""

from collections import OrderedDict
from collections.abc import Callable
from threading import Lock
from typing import Generic, TypeVar

KeyT = TypeVar("KeyT")
ValueT = TypeVar("ValueT")


class Kept(Generic[KeyT, ValueT]):
    """
    Values of this process, those asked for last; several threads may ask.

    Parameters
    ----------
    most : int
        How many are kept; of more the longest unused is forgotten.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._values: OrderedDict[KeyT, ValueT] = OrderedDict()
        self._lock = Lock()

    def get(self, key: KeyT) -> ValueT | None:
        """Give the value of a key; None where none is kept."""
        with self._lock:
            value = self._values.get(key)
            if value is not None:
                self._values.move_to_end(key)
            return value

    def of(self, key: KeyT, make: Callable[[], ValueT]) -> ValueT:
        """Give the value of a key, made and kept where none was."""
        value = self.get(key)
        if value is None:
            value = make()
            self.put(key, value)
        return value

    def put(self, key: KeyT, value: ValueT) -> None:
        """Keep a value, in the place of one before."""
        with self._lock:
            self._values[key] = value
            self._values.move_to_end(key)
            while len(self._values) > self._most:
                self._values.popitem(last=False)
