"""The door: argon2, throttled, back to where one was, nowhere else."""

from __future__ import annotations

import pytest
from django.contrib.auth import get_user_model
from django.test import Client
from django.urls import reverse

from tests.factories import PersonFactory
from workshop.models import Person, Role

pytestmark = pytest.mark.django_db

PASSWORD = "willow-bank-8812"
ARGON2 = ["django.contrib.auth.hashers.Argon2PasswordHasher"]


@pytest.fixture
def june(db: None, settings) -> Person:
    settings.PASSWORD_HASHERS = ARGON2
    person = PersonFactory(username="june", role=Role.ADVISOR)
    person.set_password(PASSWORD)
    person.save()
    return person


def sign_in(client: Client, password: str = PASSWORD, **more: str):
    typed = {"username": "june", "password": password, **more}
    return client.post(reverse("sign-in"), typed)


def test_a_password_is_kept_with_argon2_and_opens_the_builds(june: Person):
    client = Client()
    response = sign_in(client)

    assert june.password.startswith("argon2$argon2id$")
    assert (response.status_code, response.url) == (302, "/")
    assert client.get("/").status_code == 200


def test_the_settings_know_argon2_alone():
    from workshop import settings

    assert settings.PASSWORD_HASHERS == ARGON2
    assert settings.SESSION_COOKIE_HTTPONLY
    assert settings.SESSION_COOKIE_AGE <= 24 * 3600
    assert settings.AXES_COOLOFF_TIME * 60 == 15  # the page says a quarter of an hour


def test_a_wrong_password_says_so_and_keeps_the_name(june: Person):
    response = sign_in(Client(), "wrong")
    page = response.content.decode()

    assert response.status_code == 200
    assert "enter a correct username and password" in page
    assert 'value="june"' in page
    assert "wrong" not in page


def test_an_unknown_name_is_answered_as_a_wrong_password_is(june: Person):
    known = sign_in(Client(), "wrong").content.decode()
    unknown = sign_in(Client(), "wrong", username="nobody").content.decode()

    def notice(page: str) -> str:
        return page[page.index("notice--stop") :].split("</div>")[0]

    assert notice(known) == notice(unknown)


def test_too_many_tries_are_stopped_even_with_the_right_password(june: Person):
    client = Client()
    answers = [sign_in(client, f"guess-{n}").status_code for n in range(8)]
    last = sign_in(client)

    assert answers[:7] == [200] * 7
    assert answers[7] == last.status_code == 429
    assert "The password was wrong too often. Wait a quarter of an hour" in (
        last.content.decode()
    )


def test_one_person_locked_out_locks_nobody_else_out(june: Person):
    rosa = PersonFactory(username="rosa", role=Role.FITTER)
    rosa.set_password(PASSWORD)
    rosa.save()
    client = Client()
    for n in range(9):
        sign_in(client, f"guess-{n}")

    assert sign_in(client).status_code == 429
    assert sign_in(client, username="rosa").status_code == 302


def test_a_good_sign_in_forgets_the_bad_ones(june: Person):
    client = Client()
    for _ in range(2):
        answers = [sign_in(client, f"guess-{n}").status_code for n in range(7)]
        assert answers == [200] * 7
        assert sign_in(client).status_code == 302
        client.post(reverse("sign-out"))


@pytest.mark.parametrize(
    ("wanted", "lands"),
    [
        ("/week/", "/week/"),
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example/", "/"),
        ("javascript:alert(1)", "/"),
        ("\\\\elsewhere.example", "/"),
    ],
)
def test_after_the_sign_in_one_lands_at_home(june: Person, wanted: str, lands: str):
    assert sign_in(Client(), next=wanted).url == lands


def test_the_page_asked_for_comes_after_the_sign_in(june: Person):
    client = Client()
    refused = client.get("/customers/?q=a")
    page = client.get(refused.url).content.decode()

    assert refused.url == "/sign-in/?next=/customers/%3Fq%3Da"
    assert 'name="next" value="/customers/?q=a"' in page
    assert sign_in(client, next="/customers/?q=a").url == "/customers/?q=a"


def test_signing_out_closes_everything(june: Person):
    client = Client()
    sign_in(client)
    response = client.post(reverse("sign-out"))

    assert response.url == reverse("sign-in")
    assert client.get("/").status_code == 302


def test_a_link_does_not_sign_anybody_out(june: Person):
    client = Client()
    sign_in(client)

    assert client.get(reverse("sign-out")).status_code == 405
    assert client.get("/").status_code == 200


def test_who_was_switched_off_is_out_at_once(june: Person):
    client = Client()
    sign_in(client)
    get_user_model().objects.filter(pk=june.pk).update(is_active=False)

    assert client.get("/").status_code == 302
    assert sign_in(client).status_code == 200


def test_a_form_without_its_token_is_refused_in_words(june: Person):
    client = Client(enforce_csrf_checks=True)
    response = sign_in(client)

    assert response.status_code == 403
    assert "Nothing was saved." in response.content.decode()


def test_nothing_a_signed_in_page_says_is_kept_by_the_browser(office: Client):
    response = office.get("/")

    assert response["Cache-Control"] == "private, no-store"
    assert response["X-Frame-Options"] == "DENY"
    assert response["Content-Security-Policy"].startswith("default-src 'self'")


# Contrast.


def choose(client: Client, chosen: str, back: str = "/sign-in/"):
    return client.post(reverse("contrast"), {"contrast": chosen, "next": back})


def test_contrast_is_remembered_on_this_screen_signed_in_or_not():
    client = Client()
    response = choose(client, "high")

    assert response.url == "/sign-in/"
    assert response.cookies["contrast"].value == "high"
    assert 'data-contrast="high"' in client.get("/sign-in/").content.decode()
    choose(client, "normal")
    assert 'data-contrast="high"' not in client.get("/sign-in/").content.decode()


def test_an_odd_contrast_is_the_normal_one():
    assert choose(Client(), "<b>").cookies["contrast"].value == "normal"


@pytest.mark.parametrize(
    "back",
    ["https://elsewhere.example/", "//elsewhere.example", "builds", "1,5", "\x00", ""],
)
def test_contrast_leads_nowhere_else(back: str):
    assert choose(Client(), "high", back).url == "/"
