from django.urls import URLPattern, URLResolver, include, path

from workshop.views import auth, customers, site

urlpatterns: list[URLPattern | URLResolver] = [
    path("sign-in/", auth.sign_in, name="sign-in"),
    path("sign-out/", auth.sign_out, name="sign-out"),
    path("contrast/", auth.contrast, name="contrast"),
    path("workshop/", site.site, name="site"),
    path("workshop/bays/<int:bay_id>/", site.bay, name="bay"),
    path("workshop/people/<int:person_id>/", site.person, name="person"),
    path("customers/", customers.customers, name="customers"),
    path("customers/new/", customers.customer_new, name="customer-new"),
    path("customers/<int:customer_id>/", customers.customer, name="customer"),
    path(
        "customers/<int:customer_id>/edit/",
        customers.customer_edit,
        name="customer-edit",
    ),
    path("", include("builds.urls")),
]
