"""Why a container that is kept apart is not taken: it is a customer's, or nobody knows yet what is in it. Pure: no
Django here."""


def not_known(code: str) -> str:
    return (
        f"{code} was found, and nobody has said yet what is in it. Identify it first, on its page; what turns out to "
        "be mixed can then be sent away."
    )


def kept_for_another(code: str, owner: str) -> str:
    return (
        f"{code} is kept for the gas of {owner}; it takes and gives gas at that customer's equipment alone. Name a "
        "container of the shop, or one that is kept for the customer of this unit."
        if owner
        else f"{code} is the shop's by now, and not kept for a customer."
    )


def kept_apart(code: str, owner: str, other: str, others: str) -> str:
    """Why gas does not go from one container into another."""
    whose = [
        f"{one} is kept for {whom}" if whom else f"{one} is the shop's"
        for one, whom in ((other, others), (code, owner))
    ]
    return f"{whose[0]}, and {whose[1]}: one's gas does not go into the other's. Name a container of the same owner."
