"""A connection to PostgreSQL that hangs up on a server which says nothing."""

from typing import Any, TypeVar

import psycopg
from psycopg.abc import PQGen

T = TypeVar("T")

#: A server that is asked only whether it is there says so at once.
CHECK_S = 0.5
#: What PostgreSQL itself is told to give up after, and a little for the way.
REST_S = 3.0


class PatientConnection(psycopg.Connection[Any]):
    """
    Wait for an answer so long, and no longer.

    The time-outs of the server are of no use where it hangs, or the network is cut
    and packets vanish: a thread would wait for minutes, and the next would follow.
    """

    longest_s: float | None = None
    _is_check = False

    def execute(self, query: Any, *args: Any, **kwargs: Any) -> psycopg.Cursor[Any]:
        # An empty query is the pool's way to see whether the connection works.
        self._is_check = query == ""
        try:
            return super().execute(query, *args, **kwargs)
        finally:
            self._is_check = False

    def wait(
        self, gen: PQGen[T], interval: float = 0.1, timeout: float | None = None
    ) -> T:
        longest = CHECK_S if self._is_check else self.longest_s
        try:
            return super().wait(gen, interval, longest if timeout is None else timeout)
        except psycopg.OperationalError:
            if timeout is None and not self.closed and self.is_waiting():
                self.close()
            raise

    def is_waiting(self) -> bool:
        """Whether an answer is still to come: nothing else can be asked."""
        status = self.info.transaction_status
        return status is psycopg.pq.TransactionStatus.ACTIVE


def patient_connection(statement_timeout_s: int) -> type[PatientConnection]:
    """Give the connection that waits as long as the server may take, and a little."""
    longest_s = statement_timeout_s + REST_S if statement_timeout_s else None
    return type("PatientConnection", (PatientConnection,), {"longest_s": longest_s})
