from django.urls import path

from accounts import views, views_keys, views_lock

app_name = "accounts"

urlpatterns = [
    path("unlock/", views_lock.unlock, name="unlock"),
    path("<uuid:operator>/people/", views.people, name="people"),
    path("<uuid:operator>/people/invite/", views.invite, name="invite"),
    path("<uuid:operator>/people/<uuid:person>/", views.person, name="person"),
    path("<uuid:operator>/people/<uuid:person>/keys/", views_keys.person_keys, name="person_keys"),
    path("<uuid:operator>/people/<uuid:person>/role/", views.give_role, name="give_role"),
    path("<uuid:operator>/people/<uuid:person>/role/<uuid:role>/take/", views.take_role, name="take_role"),
    path("<uuid:operator>/people/<uuid:person>/authorise/", views.authorise, name="authorise"),
    path(
        "<uuid:operator>/people/<uuid:person>/authorisation/<uuid:authorisation>/end/",
        views.end_authorisation,
        name="end_authorisation",
    ),
    path("<uuid:operator>/keys/", views_keys.keys, name="keys"),
    path("<uuid:operator>/keys/<uuid:key>/end/", views_keys.end_key, name="end_key"),
    path("<uuid:operator>/people/<uuid:person>/invitation/", views.send_invitation, name="send_invitation"),
]
