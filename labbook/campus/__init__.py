"""The campus sign-on: who somebody is, as another server says it, by OpenID Connect or SAML 2.0."""
