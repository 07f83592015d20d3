"""What `verify` proves of signed jobs: they repeat what their lines say."""

from django.db import connection

from inventory.ledger.verify import Proof

# Signed jobs whose totals are not what their lines add up to, in words that both databases have for it.
WRONG = """
SELECT j.voucher_id, j.number, j.revision FROM jobs_job j LEFT JOIN jobs_jobline l ON l.job_id = j.id
WHERE j.voucher_id IS NOT NULL GROUP BY j.id, j.voucher_id, j.number, j.revision, j.charged_mg, j.recovered_mg,
  j.line_loss_mg, j.oil_added_ul, j.oil_drained_ul
HAVING COALESCE(j.charged_mg, -1) <> COALESCE(SUM(CASE
    WHEN l.action = 'charge' THEN COALESCE(l.quantity, l."before" - l."after")
    WHEN l.action = 'line-loss' THEN -l.quantity END), 0)
  OR COALESCE(j.recovered_mg, -1) <> COALESCE(SUM(CASE
    WHEN l.action = 'recover' THEN COALESCE(l.quantity, l."after" - l."before") END), 0)
  OR COALESCE(j.line_loss_mg, -1) <> COALESCE(SUM(CASE WHEN l.action = 'line-loss' THEN l.quantity END), 0)
  OR COALESCE(j.oil_added_ul, -1) <> COALESCE(SUM(CASE WHEN l.action = 'oil-add' THEN l.quantity END), 0)
  OR COALESCE(j.oil_drained_ul, -1) <> COALESCE(SUM(CASE WHEN l.action = 'oil-drain' THEN l.quantity END), 0)
ORDER BY j.voucher_id
"""


def check_totals(proof: Proof) -> None:
    """Each signed job keeps what its lines add up to."""
    with connection.cursor() as cursor:
        cursor.execute(WRONG)
        for voucher, number, revision in cursor.fetchall():
            proof.fault(f"Job {number}, revision {revision}, keeps other totals than its lines add up to.", voucher)
