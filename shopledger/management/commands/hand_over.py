"""manage.py hand_over USERNAME --name NAME"""

from shopledger.management.plain import PlainCommand
from shopledger.signin.machine import hand_over

NEXT = """What to do now:
1. manage.py backup FILE, and give that file, its erased.txt and the last seal's receipt to the new owner.
2. The new owner restores it on a machine of their own (manage.py restore FILE), or takes over this one with
   a new DATA_DIR/secret_key, then runs manage.py verify --head with the digest on the receipt.
3. The new owner signs in, changes the password, enters the shop's new name and registration under Settings, and
   lets in those who stay: on the page of each, or with manage.py let_in USERNAME.
4. Whoever sold it keeps the backup of before and the inspection bundles for as long as records are to be kept."""


class Command(PlainCommand):
    help = "Hands the ledger to whoever buys the business: one new owner, nobody of before signs in any more."

    def add_arguments(self, parser) -> None:
        parser.add_argument("username", metavar="USERNAME", help="of the new owner; also of one who works here")
        parser.add_argument("--name", default="", help="of the new owner, as it stands on papers")

    def act(self, *, username: str, name: str, **_options) -> None:
        owner, password = hand_over(username, name)
        self.stdout.write(
            f"{owner.name} owns this ledger from now on, and signs in as {owner.username} with the password "
            f"{password}\nIt is shown this once. Everybody else has left: no password, second factor or session of "
            f"before lets anybody in. The record is whole, and says so.\n{NEXT}"
        )
