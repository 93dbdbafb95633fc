from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in
from django.db.models.signals import post_migrate


class PeopleConfig(AppConfig):
    name = "fleet.people"
    label = "people"

    def ready(self) -> None:
        from fleet.ground.languages.own import speak_own_words
        from fleet.people.actions.entering import watch
        from fleet.people.models.trigrams import keep_trigrams
        from fleet.people.queries.proof import stamp_signed_in

        user_logged_in.connect(stamp_signed_in, dispatch_uid="stamp_signed_in")
        watch()
        speak_own_words()
        post_migrate.connect(keep_trigrams, sender=self)
