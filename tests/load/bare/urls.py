from django.http import HttpRequest, JsonResponse
from django.urls import path

from .models import Row


def insert_and_read(request: HttpRequest) -> JsonResponse:
    row = Row.objects.create(text=request.body.decode()[:40])
    return JsonResponse({"text": Row.objects.get(pk=row.pk).text})


urlpatterns = [path("", insert_and_read)]
