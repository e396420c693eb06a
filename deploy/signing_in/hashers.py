"""How a password is kept: Argon2id, at a price a small machine can pay."""

from django.contrib.auth.hashers import Argon2PasswordHasher


class ModestArgon2Hasher(Argon2PasswordHasher):
    """
    Argon2id with 46 MiB, two passes and one lane.

    Django's own 100 MiB and eight lanes would take 800 MiB of a 1 GB computer
    when eight people sign in at once.  OWASP's least is 19 MiB with two passes;
    a password hashed with other figures is hashed anew at the next sign-in.
    """

    memory_cost = 46 * 1024  # KiB
    time_cost = 2
    parallelism = 1
