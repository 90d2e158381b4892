"""Every address of the record."""

from django.urls import path

from .views import benches, home, readings, results, runs, samples, setup, sheet, standardizations

urlpatterns = [
    path("", home.home, name="home"),
    path("sign-in/", home.sign_in, name="sign_in"),
    path("sign-out/", home.sign_out, name="sign_out"),
    path("afternoon/", home.afternoon, name="afternoon"),
    path("runs/", runs.run_list, name="runs"),
    path("runs/open/", runs.open_run, name="open_run"),
    path("runs/<int:pk>/", sheet.run_sheet, name="run"),
    path("runs/<int:pk>/figures/<slug:key>/", sheet.enter_figure, name="enter_figure"),
    path("runs/<int:pk>/present/", sheet.note_presence, name="note_presence"),
    path("runs/<int:pk>/readings/", readings.run_readings, name="run_readings"),
    path("runs/<int:pk>/readings/typed/", readings.add_typed_reading, name="add_typed_reading"),
    path("runs/<int:pk>/readings/strike/", readings.strike_readings, name="strike_readings"),
    path("runs/<int:pk>/bounds/", readings.move_bound, name="move_bound"),
    path("runs/<int:pk>/files/", readings.hand_in_file, name="hand_in_file"),
    path("files/<int:pk>/", readings.file_preview, name="file"),
    path("runs/<int:pk>/result/", results.run_result, name="run_result"),
    path("runs/<int:pk>/fired/", runs.mark_fired, name="mark_fired"),
    path("runs/<int:pk>/unlock/", runs.unlock_limit, name="unlock_limit"),
    path("runs/<int:pk>/complete/", runs.complete_run, name="complete_run"),
    path("runs/<int:pk>/misfire/", runs.report_misfire, name="report_misfire"),
    path("runs/<int:pk>/set-aside/", runs.set_aside, name="set_aside"),
    path("runs/<int:pk>/take-up/", runs.take_up, name="take_up"),
    path("runs/<int:pk>/sign/", runs.sign_run, name="sign_run"),
    path("standardizations/<int:pk>/", standardizations.standardization, name="standardization"),
    path("standardizations/<int:pk>/<slug:deed>/", standardizations.decide, name="decide"),
    path("review/", standardizations.review_desk, name="review_desk"),
    path("benches/", benches.benches, name="benches"),
    path("benches/<slug:code>/", benches.bench, name="bench"),
    path("benches/<slug:code>/history.csv", benches.bench_table, name="bench_table"),
    path("benches/<slug:code>/change/", benches.change_bench, name="change_bench"),
    path("samples/", samples.samples, name="samples"),
    path("samples/<int:pk>/reveal/", samples.reveal_sample, name="reveal_sample"),
    path("set-up/", setup.setup, name="setup"),
    path("set-up/<slug:key>/", setup.setup_list, name="setup_list"),
    path("set-up/<slug:key>/new/", setup.setup_form, name="setup_new"),
    path("set-up/<slug:key>/<int:pk>/", setup.setup_form, name="setup_change"),
]
