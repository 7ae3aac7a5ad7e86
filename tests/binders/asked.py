"""Makes the world of the fault tests on the database of DATABASE_URL, with a binder of it asked for, not built.

python -m tests.binders.asked
"""

import os


def main() -> None:
    from commissioning.evidence.accept import Sender, accept
    from commissioning.models import Binder
    from portfolio import models as m
    from portfolio.jobs import queue, runner
    from tests.faults import world

    made = world.build()
    m.Membership.objects.create(person=made.person, role="lead", firm=m.Firm.objects.get())
    envelopes = made.envelopes[: 8 * world.PER_POSITION]
    for start in range(0, len(envelopes), 100):
        accept(Sender(made.person), envelopes[start : start + 100])
    runner.drain()
    binder = Binder.objects.create(project=m.Project.objects.get(), title="Closeout", asked_by=made.person)
    binder.positions.set(m.Position.objects.order_by("tag"))
    queue.want("binder", [binder.pk])


if __name__ == "__main__":
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "portfolio.settings")
    django.setup()
    main()
