"""manage.py let_in USERNAME [--second-factor]"""

from shopledger.management.plain import PlainCommand
from shopledger.signin.machine import let_in


class Command(PlainCommand):
    help = "Lets somebody in again who lost their password, or with --second-factor their phone."

    def add_arguments(self, parser) -> None:
        parser.add_argument("username", metavar="USERNAME")
        parser.add_argument(
            "--second-factor", action="store_true", help="take away the second factor as well: the phone is lost"
        )

    def act(self, *, username: str, second_factor: bool, **_options) -> None:
        person, password = let_in(username, second_factor)
        without = " The second factor is off; set up another one after signing in." if second_factor else ""
        self.stdout.write(
            f"{person.name} signs in as {person.username} with the password {password}\nIt is shown this once. Every "
            f"session of theirs has ended.{without} Change the password after signing in. That this was done is an "
            "entry of the record, and owners read it on their first page."
        )
